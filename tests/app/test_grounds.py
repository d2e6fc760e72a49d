"""What the journal's evidence hashes cover: all that was judged, also from before the step. Each in a store changed by force."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from plants import demo_shop
from stage import Stage, at, open_job

from booth.grounds import grounds_in
from booth.reports.record import build_record, judge_vehicle
from booth.store import Draft, Store
from booth.times import format_time
from booth.verifying import verify_evidence, verify_record

LOTS = {"resin": "R-1", "hardener": "H-1"}
END = 1300  # of the coat; mixed at 0, begun at 1000


@pytest.fixture(scope="module")
def painted(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Clear coat out of a pot that was mixed a quarter of an hour before, after a coat of base."""
    with Store.open(tmp_path_factory.mktemp("painted"), writer=True) as store:
        stage = Stage(store)
        open_job(stage)
        stage.say(0, "mix", "mix-room", mix="M-1", coating="two-pack-clear", lots=LOTS, pot="pot-1")
        for second in range(0, END + 200, 10):
            reading = {"time": format_time(at(second)), "value": 21.0, "unit": "degC"}
            stage._take(second, [("shop/mix-room/pot-1", reading)])
        stage.air(range(0, 1000, 10), "idle", look=False)
        stage.say(1001, "step-start", vehicle="V-1", step="clear-1", mix="M-1")
        stage.air(range(1000, END, 10), "spray", look=False)
        stage.say(END, "step-end", vehicle="V-1", step="clear-1")
        stage.air(range(END, END + 200, 10), "flash")
        yield store


def broken(store: Store, point: str, first: float, last: float) -> list[str]:
    """What is said once the readings from first to last have another value; they are as before afterwards."""
    where = f"point = (SELECT id FROM point WHERE text = '{point}') AND time >= {at(first)} AND time <= {at(last)}"
    with sqlite3.connect(store._database.path) as other:
        triggers = other.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'reading'").fetchall()
        for (trigger,) in triggers:
            other.execute(f"DROP TRIGGER {trigger}")
        assert other.execute(f"UPDATE reading SET value = value + 1 WHERE {where}").rowcount > 0
    found = verify_evidence(store)[1]
    with sqlite3.connect(store._database.path) as other:
        other.execute(f"UPDATE reading SET value = value - 1 WHERE {where}")
    other.close()
    return found


def test_nothing_is_said_of_what_was_left_alone(painted: Store) -> None:
    checked, problems = verify_evidence(painted)
    assert checked >= 2 and problems == []


@pytest.mark.parametrize(
    ("point", "first", "last"),
    [
        ("mix-room/pot-1", 0, 900),  # before the coat: the pot life rests on it
        ("south/humidity", 1100, 1100),
        ("south/humidity", 1000, 1000),  # a second before the start: it is the one that is held there
    ],
)
def test_a_changed_reading_is_found(painted: Store, point: str, first: float, last: float) -> None:
    [problem, *_] = broken(painted, point, first, last)
    assert "evidence of V-1 clear-1" in problem


def test_what_nothing_rests_on_may_change(painted: Store) -> None:
    """Long before the coat: longer than the humidity probe takes to recover from heat."""
    assert broken(painted, "south/humidity", 0, 80) == []


def test_the_journal_and_the_record_have_the_same_hash_where_one_requirement_stands_alone(painted: Store) -> None:
    [entry] = [one for one in painted.journal.entries(kinds=["finding"]) if one.body["step"] == "clear-1"]
    alone = {ground.requirements[0]: sha256 for ground, sha256 in grounds_in(entry.body) if len(ground.requirements) == 1}
    record = build_record(judge_vehicle(demo_shop(), painted, "V-1", at(END + 190)))
    [step] = [one for one in record["rounds"][0]["steps"] if one["step"] == "clear-1"]
    hashes = {one["requirement"]: one["evidence_sha256"] for one in step["findings"]}
    assert "clear-1/pot_life" in alone
    assert {name: hashes[name] for name in alone} == alone


def test_an_entry_of_the_first_kind_is_still_checked(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        stage = Stage(store)
        stage.air(range(0, 60, 5), "idle", look=False)
        points = ["south/humidity"]
        body = {"vehicle": "V-1", "round": 1, "step": "sealer", "start": format_time(at(0)), "end": format_time(at(60))}
        body |= {"points": points, "findings": [], "evidence_sha256": store.readings.evidence_sha256(points, at(0), at(60))}
        store.journal.append([Draft("finding", body, at(60), at(70), "logger")])
        assert verify_evidence(store) == (1, [])
        assert len(broken(store, points[0], 30, 30)) == 1


def test_the_record_shows_what_was_said_first_and_is_checked_up_to_its_own_head(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        stage = Stage(store)
        open_job(stage)
        stage.say(0, "step-start", vehicle="V-1", step="clear-1")
        stage.air(range(0, 300, 5), "spray", look=False, humidity=lambda second: None if 100 <= second < 220 else 45.0)
        stage.say(300, "step-end", vehicle="V-1", step="clear-1")
        stage.air(range(300, 500, 5), "flash")
        before = build_record(judge_vehicle(stage.shop, store, "V-1", at(500), at(500)))
        for second in range(100, 220, 5):
            stage.measure(second, now=600, humidity=90.0)
        stage.look(605)
        record = build_record(judge_vehicle(stage.shop, store, "V-1", at(605)))
        findings = {one["requirement"]: one for step in record["rounds"][0]["steps"] for one in step["findings"]}
        humidity = findings["clear-1/relative_humidity"]
        assert (humidity["verdict"], humidity["as_issued"]["verdict"]) == ("missed", "unproven")
        assert verify_record(stage.shop, store, before) == []
        assert verify_record(stage.shop, store, before | {"journal": before["journal"] | {"entries": 3}}) != []
