"""The untouched client against an independent server that speaks InfluxDB 2's write by itself (peers.py says what it lacks)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from booth.mirror.memory import FILE
from booth.store import Store
from tests.mirror.desk import Desk, Row, fill, finding, held
from tests.mirror.peers import VictoriaMetrics


@pytest.fixture
def desk(store: Store, victoria: VictoriaMetrics, tmp_path: Path) -> Iterator[Desk]:
    with Desk(tmp_path / "store", victoria.url) as opened:
        yield opened


def mirrored(victoria: VictoriaMetrics) -> list[Row]:
    """To the millisecond, which is what it keeps."""
    return sorted(
        (f"{series['metric']['booth']}/{series['metric']['point']}", moment, value)
        for series in victoria.export("booth_reading_value")
        for moment, value in zip(series["timestamps"], series["values"], strict=True)
    )


def to_the_millisecond(store: Store) -> list[Row]:
    return [(point, moment // 1000, value) for point, moment, value in held(store)]


def test_up(desk: Desk, store: Store, victoria: VictoriaMetrics) -> None:
    fill(store, range(2500))
    store.journal.append([finding("TV-0001")])
    desk.run()
    assert mirrored(victoria) == to_the_millisecond(store)
    missed = {series["metric"]["requirement"]: series["values"] for series in victoria.export("booth_finding_missed")}
    assert missed == {"clear-1/air_temperature": [1], "clear-1/humidity": [0]}


def test_down_for_a_while(desk: Desk, store: Store, victoria: VictoriaMetrics) -> None:
    fill(store, range(100))
    desk.run()
    victoria.stop()  # not killed: what it acknowledged last is in its memory only
    fill(store, range(100, 3000))
    assert desk.mirror.attempt() == 1
    assert "no answer" in desk.memory.state().problem
    victoria.start()
    fill(store, range(3000, 3100))
    desk.run()
    assert mirrored(victoria) == to_the_millisecond(store)


def test_sent_twice_is_there_once(desk: Desk, store: Store, victoria: VictoriaMetrics, tmp_path: Path) -> None:
    fill(store, range(700))
    desk.run()
    desk.__exit__()
    for file in (tmp_path / "store").glob(f"{FILE}*"):
        file.unlink()
    desk.__enter__()
    desk.run()
    assert mirrored(victoria) == to_the_millisecond(store)


def test_late_readings(desk: Desk, store: Store, victoria: VictoriaMetrics) -> None:
    fill(store, range(0, 8000, 2))
    desk.run()
    fill(store, [1, 3, 4001, 7997])
    desk.run()
    assert mirrored(victoria) == to_the_millisecond(store)
