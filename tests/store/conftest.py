"""A fresh store for each test, and a second hand that reaches into its file with sqlite3 alone."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from booth.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "store", writer=True) as opened:
        yield opened


@pytest.fixture
def outsider(store: Store, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """Somebody else's connection to the same file."""
    with closing(sqlite3.connect(tmp_path / "store" / "booth.sqlite", isolation_level=None)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        yield connection


@pytest.fixture
def forger(outsider: sqlite3.Connection) -> Callable[..., None]:
    """Runs a statement with every promise of the file's triggers removed."""
    for (name,) in outsider.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        outsider.execute(f"DROP TRIGGER {name}")
    return lambda sql, *parameters: outsider.execute(sql, parameters)
