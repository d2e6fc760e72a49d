"""Many rows in one statement are kept as sqlite3's own executemany keeps them one by one, duplicates left out."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from booth.store.database import Database, StoreError

TABLE = "CREATE TABLE thing (name TEXT, number INTEGER, PRIMARY KEY (name, number)) WITHOUT ROWID"
INTO = "INSERT OR IGNORE INTO thing (name, number)"
ALL = "SELECT name, number FROM thing ORDER BY name, number"


@pytest.mark.parametrize("count", [0, 1, 49, 50, 51, 100, 137])
@pytest.mark.parametrize("different", [1000, 30])
def test_as_executemany(tmp_path: Path, count: int, different: int) -> None:
    rows = [(f"n'{number % different}", number % different) for number in range(count)]
    with closing(sqlite3.connect(":memory:")) as reference, closing(Database(tmp_path / "file")) as database:
        reference.execute(TABLE)
        expected = reference.executemany(f"{INTO} VALUES (?, ?)", rows)
        database.execute(TABLE)
        assert database.insert_many(INTO, rows) == max(0, expected.rowcount)
        assert database.rows(ALL) == reference.execute(ALL).fetchall()


def test_a_row_that_cannot_be_kept_is_an_error_in_words(tmp_path: Path) -> None:
    with closing(Database(tmp_path / "file")) as database:
        database.execute(TABLE)
        with pytest.raises(StoreError, match="beyond what can be stored"):
            database.insert_many(INTO, [("a", 1), ("b", 2**70)])
