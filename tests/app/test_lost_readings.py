"""Readings that a damaged store can't give back any more: the record says so, and nothing that rests on them is met."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from plants import demo_shop
from stage import Stage, at, open_job

from booth.reports.record import build_record, judge_vehicle
from booth.store import Store
from booth.times import HOUR
from tests.cli.commands import booth

CONFIG = Path(__file__).parents[2] / "config"
HUMIDITY = "clear-1/relative_humidity"


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    """A coat in good air, closed, all of it sealed."""
    with Store.open(tmp_path / "store", writer=True) as store:
        stage = Stage(store)
        open_job(stage)
        stage.say(0, "step-start", vehicle="V-1", step="clear-1")
        stage.air(range(0, 300, 5), "spray", look=False)
        stage.say(300, "step-end", vehicle="V-1", step="clear-1")
        stage.air(range(300, 500, 5), "flash")
        store.readings.seal(at(0) + 2 * HOUR)
    yield tmp_path / "store"


def damage(folder: Path, point: str) -> None:
    """One byte of every chunk of a point."""
    with closing(sqlite3.connect(folder / "booth.sqlite")) as connection, connection:
        (trigger,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'chunk_keeps_values'").fetchone()
        connection.execute("DROP TRIGGER chunk_keeps_values")
        rows = connection.execute(
            "SELECT chunk.id, bytes FROM chunk JOIN sealed_hour ON chunk.id = chunk"
            " JOIN point ON point.id = point WHERE text = ?",
            (point,),
        ).fetchall()
        for number, data in rows:
            changed = data[:40] + bytes([data[40] ^ 1]) + data[41:]
            connection.execute("UPDATE chunk SET bytes = ? WHERE id = ?", (changed, number))
        connection.execute(trigger)
    assert rows


def verdicts(record: dict) -> dict[str, str]:
    return {one["requirement"]: one["verdict"] for step in record["rounds"][0]["steps"] for one in step["findings"]}


def test_what_rests_on_lost_readings_is_a_gap_and_the_record_says_why(folder: Path) -> None:
    with Store.open(folder) as store:
        whole = build_record(judge_vehicle(demo_shop(), store, "V-1", at(500)))
    assert verdicts(whole)[HUMIDITY] == "met"
    damage(folder, "south/humidity")
    with Store.open(folder) as store:
        record = build_record(judge_vehicle(demo_shop(), store, "V-1", at(500)))
    found = verdicts(record)
    assert found[HUMIDITY] == "unproven"
    assert found["clear-1/dew_point_margin"] != "met"
    rest = {name: verdict for name, verdict in verdicts(whole).items() if "humidity" not in name and "dew_point" not in name}
    assert {name: found[name] for name in rest if not name.startswith("flash")} == {
        name: verdict for name, verdict in rest.items() if not name.startswith("flash")
    }
    first, *others = record["cautions"]
    assert "Readings of south/humidity are lost" in first and others == whole["cautions"]


def test_the_commands_say_so_and_go_on(folder: Path) -> None:
    assert booth("verify", config=CONFIG, store=folder).code == 0
    damage(folder, "south/humidity")
    found = booth("verify", "--json", config=CONFIG, store=folder)
    assert found.code == 1
    told = " ".join(found.json["problems"])
    assert "south/humidity" in told and "readings are lost" in told and "evidence of V-1 clear-1" in told
    overview = booth("store", "--json", config=CONFIG, store=folder)
    assert (overview.code, overview.json["ok"]) == (1, False)
    assert [one["point"] for one in overview.json["lost"]] == ["south/humidity"]
    assert booth("store", "--quick", "--json", config=CONFIG, store=folder).json["ok"] is None
