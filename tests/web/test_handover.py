"""The hand-over of a shift: which shift, and what stands on its sheet."""

from __future__ import annotations

import sys
import threading
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from booth.alarms.states import Event, State
from booth.alarms.transition import Transition
from booth.overview import open_job
from booth.store import Draft, Store
from booth.times import HOUR, MINUTE, parse_time
from booth.web.desk.appearances import Appearance
from booth.web.desk.booths_view import booths_view
from booth.web.desk.handover import shift
from booth.web.desk.handover_view import handover_view
from booth.web.desk.memory import Memory
from booth.web.desk.moments import MomentError, Moments
from tests.alarms.alarm_conditions import MIDNIGHT, humid
from tests.app.plants import demo_shop
from tests.web.demo_board import END, demo_store  # noqa: F401

MOMENTS = Moments(ZoneInfo("America/Chicago"), END)

APPEARED, SEEN, OVER = (
    Transition("TV-4104/1/base-1/margin", before, after, MIDNIGHT + minute * MINUTE, cause, humid(0))
    for before, after, minute, cause in (
        (State.NORMAL, State.UNACKNOWLEDGED, 10, Event.APPEAR),
        (State.UNACKNOWLEDGED, State.ACKNOWLEDGED, 30, Event.ACKNOWLEDGE),
        (State.ACKNOWLEDGED, State.NORMAL, 50, Event.CLEAR),
    )
)


def sheet(store: Path, start: int, end: int) -> dict:
    with Store.open(store) as opened:
        return handover_view(demo_shop(), opened, Memory(demo_shop()), start, end, END)


def test_a_shift_is_the_last_twelve_hours_or_what_was_asked_for() -> None:
    assert shift({}, MOMENTS) == (END - 12 * HOUR, END)
    assert shift({"shift": "8"}, MOMENTS) == (END - 8 * HOUR, END)
    asked = {"from": "2026-07-13T06:00", "to": "2026-07-13T14:00"}
    assert shift(asked, MOMENTS) == (parse_time("2026-07-13T11:00:00Z"), parse_time("2026-07-13T19:00:00Z"))


def test_a_night_shift_over_a_clock_change_is_an_hour_longer() -> None:
    """On 1 November 2026 at 02:00 CDT clocks go back: 22:00 to 06:00 is nine hours."""
    start, end = shift({"from": "2026-10-31T22:00", "to": "2026-11-01T06:00"}, MOMENTS)
    assert end - start == 9 * HOUR


@pytest.mark.parametrize(
    "asked",
    [
        {"from": "2026-07-13T14:00", "to": "2026-07-13T06:00"},
        {"from": "2026-01-01T06:00", "to": "2026-07-13T06:00"},
        {"from": "this morning"},
        {"shift": "0"},
        {"shift": "-8"},
        {"shift": "9999"},
        {"shift": "early"},
        {"shift": "٨"},
    ],
)
def test_what_is_no_shift_is_said(asked: dict) -> None:
    with pytest.raises(MomentError):
        shift(asked, MOMENTS)


@pytest.mark.xdist_group("demo-board")
def test_the_sheet_of_the_demonstration(demo_store: Path) -> None:  # noqa: F811
    """Against the demonstration's own script: one bake late, one sensor silent, one van still open, two notes."""
    told = sheet(demo_store, END - 12 * HOUR, END)
    assert {one["vehicle"] for one in told["painted"]} == {f"TV-410{number}" for number in range(1, 6)}
    assert [job["vehicle"] for job in told["open"]] == ["TV-4105"]
    assert any(one["vehicle"] == "TV-4103" and "bake started" in one["sentence"] for one in told["missed"])
    assert any(one["vehicle"] == "TV-4101" and "no usable reading" in one["sentence"] for one in told["unproven"])
    assert {row.vehicle for row in told["waiting"]} == {"TV-4101", "TV-4103", "TV-4104"}
    assert len(told["notes"]) == 2 and all(one["acknowledged_by"] for one in told["alarms"])
    assert told["unseen"] == []


@pytest.mark.xdist_group("demo-board")
def test_a_shift_holds_only_its_own(demo_store: Path) -> None:  # noqa: F811
    early = sheet(demo_store, parse_time("2026-07-13T11:00:00Z"), parse_time("2026-07-13T14:00:00Z"))
    assert {one["vehicle"] for one in early["painted"]} == {"TV-4101", "TV-4102"}
    assert not early["missed"] and not early["notes"] and "TV-4103" not in {row.vehicle for row in early["waiting"]}
    before = sheet(demo_store, END - 100 * HOUR, END - 90 * HOUR)
    assert not any(before[name] for name in ("painted", "missed", "unproven", "alarms", "notes", "open", "waiting"))


def test_an_alarm_is_told_as_it_stood_at_the_end_of_the_shift() -> None:
    """It appeared at 10 min, was seen at 30, and was over at 50."""
    alarm = Appearance(APPEARED)
    for move, by in ((APPEARED, None), (SEEN, "Sam"), (OVER, None)):
        alarm.add(move, by)
    shifts = [alarm.during(MIDNIGHT + start * MINUTE, MIDNIGHT + (start + 20) * MINUTE) for start in (0, 20, 40)]
    assert [row["state"] for row in shifts] == ["unacknowledged", "acknowledged", "normal"]
    assert [row["acknowledged_by"] for row in shifts] == [None, "Sam", "Sam"]
    assert [row["returned"] is None for row in shifts] == [True, True, False]
    quiet = alarm.during(MIDNIGHT + 35 * MINUTE, MIDNIGHT + 45 * MINUTE)  # it stood, and nothing happened to it
    assert quiet["state"] == "acknowledged"
    assert alarm.during(MIDNIGHT, MIDNIGHT + 10 * MINUTE) is None and alarm.during(MIDNIGHT + HOUR, MIDNIGHT + 2 * HOUR) is None


def test_a_sheet_of_the_past_says_what_is_of_now(as_person) -> None:
    browser = as_person("supervisor")
    assert "A shift of the past" in browser.get("/handover?from=2026-07-13T00:00&to=2026-07-13T08:00").text
    assert "A shift of the past" not in browser.get("/handover").text


@pytest.mark.xdist_group("demo-board")
@pytest.mark.parametrize("page", [handover_view, booths_view])
def test_nobody_waits_while_a_van_is_judged(demo_store: Path, monkeypatch: pytest.MonkeyPatch, page) -> None:  # noqa: F811
    """Whoever else asks the memory meanwhile is answered."""
    memory, answered = Memory(demo_shop()), []

    def other() -> None:
        with Store.open(demo_store) as store, memory.following(store) as known:
            answered.append(known.read_to)

    def judged(*given):
        thread = threading.Thread(target=other, daemon=True)
        thread.start()
        thread.join(20)
        return open_job(*given)

    monkeypatch.setattr(sys.modules[page.__module__], "open_job", judged)
    with Store.open(demo_store) as store:
        if page is handover_view:
            handover_view(demo_shop(), store, memory, END - 12 * HOUR, END, END)
        else:
            booths_view(demo_shop(), store, memory, END, "SI")
        assert answered == [store.journal.head().entries]


def test_a_ledger_that_was_lent_stays_as_it_was(store_folder: Path) -> None:
    memory = Memory(demo_shop())
    with Store.open(store_folder) as store:
        lent = memory.lent(store)
        assert memory.lent(store) is lent
        vehicle = lent.vehicles[0]
        before = len(lent.job(vehicle).sayings)
        body = {"vehicle": vehicle}
        store.journal.append([Draft("note", body, END, END, "cli", private={"text": "looked at", "by": "Sam"})])
        newer = memory.lent(store)
    assert len(lent.job(vehicle).sayings) == before and len(newer.job(vehicle).sayings) == before + 1
    assert newer.vehicles == lent.vehicles


def test_the_page_says_what_is_wrong_and_shows_the_usual_shift(as_person) -> None:
    answer = as_person("supervisor").get("/handover?shift=soon")
    assert answer.status_code == 422 and "is not a number of hours" in answer.text and "Not to be forgotten" in answer.text
