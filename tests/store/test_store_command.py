"""`booth store` as somebody types it: what is kept, where it is missing, sealed, checked, backed up, restored.

The shop is the repository's own; the readings are made up here.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from booth.store import Reading, Store
from booth.times import SECOND, format_time
from tests.cli.commands import booth

CONFIG = Path(__file__).resolve().parents[2] / "config"
NOON = 1_783_944_000_000_000  # 2026-07-13T12:00:00Z: 07:00 in the shop's zone
LONG = 3 * 3600


def readings(point: str, seconds: range) -> list[Reading]:
    return [Reading(point, NOON + n * SECOND, NOON + n * SECOND + 9, "21.4", "degC", 21.4, 1) for n in seconds]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three hours, every five seconds; one point is silent for ten minutes, and one isn't in the configuration."""
    with Store.open(tmp_path / "store", writer=True) as store:
        store.readings.append(readings("north/air-temperature", range(0, LONG, 5)))
        store.readings.append(readings("north/humidity", range(0, 3600, 5)) + readings("north/humidity", range(4200, LONG, 5)))
        store.readings.append(readings("attic/air-temperature", range(0, 10, 5)))
    return tmp_path / "store"


def test_what_is_kept_and_where_it_is_missing(folder: Path) -> None:
    told = booth("store", "--json", config=CONFIG, store=folder).json
    assert (told["readings"], told["days"], told["bytes_per_sealed_reading"]) == ({"hot": 4202, "sealed": 0}, 1, None)
    points = {point["point"]: point for point in told["points"]}
    assert points["north/air-temperature"]["gaps"] == []
    gap = {"start": format_time(NOON + 3595 * SECOND), "end": format_time(NOON + 4200 * SECOND)}
    assert points["north/humidity"]["gaps"] == [gap]
    assert points["attic/air-temperature"]["gaps"] is None
    said = booth("store", config=CONFIG, store=folder).out
    assert "north/humidity: 1 gap, the longest 10 min 05 s from 2026-07-13 07:59" in said
    assert "attic/air-temperature: not in the configuration" in said


def test_sealing_changes_no_answer_but_the_size(folder: Path) -> None:
    before = booth("store", "--json", config=CONFIG, store=folder).json
    sealed = booth("store", "--seal", "--json", store=folder).json
    assert (sealed["readings"], sealed["hours"]) == (4202, 7)
    after = booth("store", "--json", config=CONFIG, store=folder).json
    assert after["readings"] == {"hot": 0, "sealed": 4202}
    assert after["bytes"] < before["bytes"] and 0 < after["bytes_per_sealed_reading"] < 4
    for told in (before, after):
        for point in told["points"]:
            del point["hot"], point["sealed"]
    assert (after["points"], after["days"]) == (before["points"], before["days"])
    assert "Nothing to seal" in booth("store", "--seal", store=folder).out


def test_a_broken_chunk_is_named_and_costs_exit_code_1(folder: Path) -> None:
    booth("store", "--seal", store=folder)
    whole = booth("store", "--check", store=folder)
    assert (whole.code, whole.out.splitlines()[-1]) == (0, "whole")
    with closing(sqlite3.connect(folder / "booth.sqlite")) as connection, connection:
        (trigger,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'chunk_keeps_values'").fetchone()
        connection.execute("DROP TRIGGER chunk_keeps_values")
        connection.execute("UPDATE chunk SET bytes = CAST('' AS BLOB) WHERE id = (SELECT max(id) FROM chunk)")
        connection.execute(trigger)
    broken = booth("store", "--check", "--json", store=folder)
    hour = format_time(NOON + 7200 * SECOND)
    assert (broken.code, broken.json["lost"]) == (1, [{"point": "north/humidity", "hour": hour, "count": 720}])
    assert len(broken.json["problems"]) == 1
    said = booth("store", "--check", store=folder)
    assert said.code == 1 and "720 readings are lost" in " ".join(said.out.split())


def test_back_up_and_restore(folder: Path, tmp_path: Path) -> None:
    booth("store", "--seal", store=folder)
    made = booth("store", "--backup", tmp_path / "backup", "--json", store=folder)
    assert (made.code, made.json["readings"]) == (0, 4202)
    back = booth("store", "--restore", tmp_path / "backup", "--json", store=tmp_path / "new").json
    assert {key: back[key] for key in ("sha256", "head", "readings")} == {
        key: made.json[key] for key in ("sha256", "head", "readings")
    }
    assert booth("store", "--check", store=tmp_path / "new").code == 0
    refused = booth("store", "--restore", tmp_path / "backup", store=folder)
    assert refused.code == 2 and "not an empty folder" in refused.err


def test_wrong_use_is_told_in_a_sentence(folder: Path, tmp_path: Path) -> None:
    both = booth("store", "--check", "--seal", store=folder)
    assert both.code == 2 and "name one at a time" in both.err
    nowhere = booth("store", "--backup", tmp_path / "backup", store=tmp_path / "nowhere")
    assert nowhere.code == 2 and "there is no store here" in nowhere.err
    assert not (tmp_path / "backup").exists()
