"""The hand-over of a shift: which shift, and what stands on its sheet."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from booth.store import Store
from booth.times import HOUR, parse_time
from booth.web.desk.handover import shift
from booth.web.desk.handover_view import handover_view
from booth.web.desk.memory import Memory
from booth.web.desk.moments import MomentError, Moments
from tests.app.plants import demo_shop
from tests.web.demo_board import END, demo_store  # noqa: F401

MOMENTS = Moments(ZoneInfo("America/Chicago"), END)


def sheet(store: Path, start: int, end: int) -> dict:
    with Store.open(store) as opened, Memory(demo_shop()).following(opened) as known:
        return handover_view(demo_shop(), opened, known, start, end)


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


@pytest.mark.xdist_group("demo-board")
def test_a_shift_holds_only_its_own(demo_store: Path) -> None:  # noqa: F811
    early = sheet(demo_store, parse_time("2026-07-13T11:00:00Z"), parse_time("2026-07-13T14:00:00Z"))
    assert {one["vehicle"] for one in early["painted"]} == {"TV-4101", "TV-4102"}
    assert not early["missed"] and not early["notes"] and "TV-4103" not in {row.vehicle for row in early["waiting"]}
    before = sheet(demo_store, END - 100 * HOUR, END - 90 * HOUR)
    assert not any(before[name] for name in ("painted", "missed", "unproven", "alarms", "notes", "open", "waiting"))


def test_the_page_says_what_is_wrong_and_shows_the_usual_shift(as_person) -> None:
    answer = as_person("supervisor").get("/handover?shift=soon")
    assert answer.status_code == 422 and "is not a number of hours" in answer.text and "Not to be forgotten" in answer.text
