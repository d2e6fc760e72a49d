"""Real servers, a store, and a mirror that is taken step by step."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from booth.store import Store
from tests.mirror.desk import Desk
from tests.mirror.peers import Influxd, VictoriaMetrics
from tests.mirror.shim import Shim


@pytest.fixture
def influxd(tmp_path: Path) -> Iterator[Influxd]:
    server = Influxd(tmp_path / "influxd")
    server.start()
    server.query("CREATE DATABASE booths")
    yield server
    server.stop()


@pytest.fixture
def shim(influxd: Influxd) -> Iterator[Shim]:
    opened = Shim(influxd)
    yield opened
    opened.close()


@pytest.fixture
def victoria(tmp_path: Path) -> Iterator[VictoriaMetrics]:
    server = VictoriaMetrics(tmp_path / "victoria")
    server.start()
    yield server
    server.stop()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "store", writer=True) as opened:
        yield opened


@pytest.fixture
def desk(store: Store, shim: Shim, tmp_path: Path) -> Iterator[Desk]:
    """A mirror of `store` into influxd."""
    with Desk(tmp_path / "store", shim.url) as opened:
        yield opened
