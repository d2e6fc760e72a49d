"""What is due when, out of made-up entries; the dates are worked out by hand."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace

import pytest

from booth.judge.care import CareBook, Due, due
from booth.shop.shop import load_shop, read_files
from booth.times import parse_time

SHOP = load_shop(read_files(Path(__file__).parents[2] / "config"))
NOW = parse_time("2026-07-13T12:00:00Z")
DAY = 24 * 3600 * 1_000_000


@dataclass
class Said:
    """An entry of the journal, made by hand."""

    kind: str
    time: str
    body: dict
    by: str | None = "badge-31"
    id: str = ""
    seq: int = 0
    channel: str = "cli"
    private: dict = field(init=False)

    def __post_init__(self) -> None:
        self.id = self.id or f"{self.kind}/{self.time}"
        self.private = {"by": self.by}

    @property
    def effective(self) -> int:
        return parse_time(self.time)


def found(*said: Said, shop: object = SHOP, now: int = NOW) -> dict[str, Due]:
    return {one.id: one for one in due(shop, CareBook(said), now)}


def test_what_the_file_asks_for_and_nobody_recorded_is_due() -> None:
    told = found()
    assert told["north/care/interlock-tested"].sentence.startswith("Interlock test in north: never recorded")
    assert told["north/care/interlock-tested"].is_over(NOW)
    assert {"north/care/filter-changed/exhaust", "north/care/filter-changed/intake"} <= set(told)
    assert not any(one.booth == "mask-room" for one in told.values())


def test_the_rule_counts_from_the_last_time() -> None:
    said = Said("interlock-tested", "2026-06-22T07:00:00Z", {"booth": "north", "interlock": "air", "result": "passed"})
    one = found(said)["north/care/interlock-tested/air"]
    assert one.at == parse_time("2026-07-20T07:00:00Z")  # four weeks
    assert not one.is_over(NOW) and one.is_near(NOW)
    assert one.sentence == "Interlock test (air) in north: due in 6 days (shop rule: first Monday)"


def test_a_paper_that_holds_shorter_than_the_rule_counts() -> None:
    body = {"booth": "south", "result": "passed", "valid_until": "2026-08-01T00:00:00Z"}
    assert found(Said("booth-examined", "2026-07-01T07:00:00Z", body))["south/care/booth-examined"].at == parse_time(
        "2026-08-01T00:00:00Z"
    )


def test_a_test_that_failed_is_due_at_once_until_it_passes() -> None:
    failed = Said("alarm-tested", "2026-07-12T07:00:00Z", {"booth": "north", "device": "horn", "result": "failed"})
    passed = Said("alarm-tested", "2026-07-13T07:00:00Z", {"booth": "north", "device": "horn", "result": "passed"})
    assert found(failed)["north/care/alarm-tested/horn"].is_over(NOW)
    assert not found(failed, passed)["north/care/alarm-tested/horn"].is_over(NOW)


def test_entries_of_the_future_and_corrections() -> None:
    later = Said("gauge-tested", "2026-07-20T07:00:00Z", {"booth": "north", "gauge": "FD-N", "result": "passed"})
    assert found(later)["north/care/gauge-tested"].last is None
    wrong = Said("gauge-tested", "2026-07-02T07:00:00Z", {"booth": "north", "gauge": "FD-N", "result": "passed"})
    right = Said("correction", "2026-07-03T07:00:00Z", {"corrects": wrong.id, "set": {"time": "2025-07-02T07:00:00Z"}})
    assert found(wrong, right)["north/care/gauge-tested/FD-N"].is_over(NOW)


def test_people_are_counted_and_not_named() -> None:
    said = [
        Said("fit-test", "2025-07-01T07:00:00Z", {"respirator": "hood", "valid_until": "2026-07-01T07:00:00Z"}, by="badge-7"),
        Said("fit-test", "2026-05-01T07:00:00Z", {"respirator": "hood", "valid_until": "2027-05-01T07:00:00Z"}, by="badge-9"),
    ]
    one = found(*said)["site/care/fit-test"]
    assert one.sentence == "Fit test: 1 of 2 on record ran out"
    assert "badge" not in one.sentence + repr(one)
    body = {"respirator": "hood", "valid_until": "2027-07-02T07:00:00Z"}
    renewed = Said("fit-test", "2026-07-02T07:00:00Z", body, by="badge-7")
    assert not found(*said, renewed)["site/care/fit-test"].is_over(NOW)


def test_without_a_rule_and_without_a_paper_nothing_is_due() -> None:
    quiet = SimpleNamespace(booths={"north": SimpleNamespace(ventilation=None)})
    said = Said("gun-cleaned", "2020-01-01T07:00:00Z", {"booth": "north", "gun": "gun-1"})
    assert found(said, shop=quiet) == {}


@pytest.mark.parametrize("mode", ["spray", "bake"])
def test_the_grid_of_a_mode_is_the_latest_one_before(mode: str) -> None:
    body = {"booth": "north", "mode": "spray", "state": "loaded", "mean": "0.5 m/s", "lowest": "0.4 m/s", "instrument": "A"}
    book = CareBook([Said("grid", "2026-01-01T07:00:00Z", body), Said("grid", "2026-06-01T07:00:00Z", body)])
    grid = book.grid("north", mode, NOW)
    assert (grid is None) == (mode == "bake")
    assert grid is None or grid.time == parse_time("2026-06-01T07:00:00Z")
    assert book.grid("north", "spray", parse_time("2025-12-01T07:00:00Z")) is None


def test_what_is_due_says_when_it_was_last_done_and_by_which_rule() -> None:
    never = found()["north/care/interlock-tested"]
    assert (never.last, never.at, never.failed, never.source) == (None, None, False, "shop rule: first Monday")
    failed = Said("interlock-tested", "2026-07-12T07:00:00Z", {"booth": "north", "interlock": "air", "result": "failed"})
    one = found(failed)["north/care/interlock-tested/air"]
    assert (one.last, one.failed, one.source) == (parse_time("2026-07-12T07:00:00Z"), True, "shop rule: first Monday")
    assert one.at == parse_time("2026-08-09T07:00:00Z")  # four weeks, as if it had passed: `failed` makes it due all the same


@pytest.mark.parametrize(("days", "near"), [(6.9, True), (7, True), (7.1, False)])
def test_a_week_before_is_near(days: float, near: bool) -> None:
    said = Said("interlock-tested", "2026-06-22T07:00:00Z", {"booth": "north", "interlock": "air", "result": "passed"})
    now = parse_time("2026-07-20T07:00:00Z") - round(days * DAY)
    one = found(said, now=now)["north/care/interlock-tested/air"]
    assert (one.is_near(now), one.is_over(now)) == (near, False)
    assert one.is_over(parse_time("2026-07-20T07:00:00Z")) and not one.is_over(parse_time("2026-07-20T07:00:00Z") - 1)


@pytest.mark.parametrize(
    ("days", "words"), [(2, "in 2 days"), (1, "in 24 h"), (0.5, "in 12 h"), (-1, "24 h"), (-3.5, "3 days ago")]
)
def test_less_than_two_days_are_told_in_hours(days: float, words: str) -> None:
    said = Said("interlock-tested", "2026-06-22T07:00:00Z", {"booth": "north", "interlock": "air", "result": "passed"})
    now = parse_time("2026-07-20T07:00:00Z") - round(days * DAY)
    assert words in found(said, now=now)["north/care/interlock-tested/air"].sentence


def test_two_respirators_of_one_person_are_two_tests() -> None:
    hood = Said("fit-test", "2026-05-01T07:00:00Z", {"respirator": "hood", "valid_until": "2026-07-01T07:00:00Z"}, by="badge-7")
    half = Said("fit-test", "2026-06-01T07:00:00Z", {"respirator": "half", "valid_until": "2027-06-01T07:00:00Z"}, by="badge-7")
    one = found(hood, half)["site/care/fit-test"]
    assert one.sentence == "Fit test: 1 of 2 on record ran out"
    assert (one.last, one.at) == (parse_time("2026-06-01T07:00:00Z"), parse_time("2026-07-01T07:00:00Z"))


def test_a_failed_test_says_so_and_in_which_booth() -> None:
    failed = Said("alarm-tested", "2026-07-12T07:00:00Z", {"booth": "north", "device": "horn", "result": "failed"})
    assert found(failed)["north/care/alarm-tested/horn"].sentence == "Alarm test (horn) in north: failed when it was last done"
