"""The ventilation log where an instrument can't be believed, where nothing was read, and over the edge of the period.

Expected figures are worked out by hand from made_up_week.py.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from made_up_week import at, fill, say, shop

from booth.judge.health.entries import interval_body
from booth.judge.health.spans import Interval
from booth.reports.ventilation import build_ventilation
from booth.reports.ventilation_document import ventilation_document
from booth.shop.shop import Shop
from booth.store import Draft, Reading, Store
from booth.times import HOUR, SECOND, parse_time
from tests.cli.commands import booth

PROBE = "north/air-velocity"
MONDAY = (at(0, 0, 0), at(1, 0, 0))
NOW = at(10, 0, 0)
GOOD = {"point": "air-velocity", "result": "passed", "valid_until": "2027-01-31T06:00:00Z"}
FAILED = GOOD | {"result": "failed", "as_found": "0.3 m/s at 0.5 m/s"}


def stuck(store: Store, start: int, end: int) -> None:
    told = Interval(PROBE, "stuck", start, end, start)
    store.journal.append([Draft("health", interval_body(told), start, end, "logger")])


@pytest.fixture
def week(tmp_path: Path) -> Callable[..., tuple[dict, str]]:
    """Builds Monday's log and its page over the made-up week with whatever else is written."""

    def build(write: Callable[[Store], None] = lambda store: None, own: Shop | None = None) -> tuple[dict, str]:
        with Store.open(tmp_path / "store", writer=True, create=True) as store:
            fill(store)
            write(store)
            made = build_ventilation(own or shop(), store, "north", *MONDAY, NOW)
            return made, ventilation_document(own or shop(), store, made, "html").decode()

    return build


def probe_of(log: dict) -> dict:
    return next(one for one in log["instruments"] if one["point"] == PROBE)


def test_a_probe_that_was_stuck_is_no_measurement(week: Callable) -> None:
    log, page = week(lambda store: stuck(store, at(0, 8, 0), at(0, 9, 0)))
    told = log["periods"][0]["velocity"]
    assert (told["known_s"], told["unknown_s"], told["mean"], told["beyond_s"]) == (0, 600, None, None)
    assert any(one["point"] == PROBE and one["spraying_s"] == 600 for one in log["gaps"])
    (fault,) = probe_of(log)["faults"]
    assert (fault["fault"], parse_time(fault["from"]), parse_time(fault["to"])) == ("stuck", at(0, 8, 0), at(0, 9, 0))
    assert "north/air-velocity was stuck 08:00–09:00" in page
    assert log["months"][-1]["velocity"]["hours_recorded"] == 0, "Monday's one hour says nothing about the month"


def test_a_part_of_the_spraying_that_was_stuck_is_left_out(week: Callable) -> None:
    told = week(lambda store: stuck(store, at(0, 8, 15), at(0, 8, 16)))[0]["periods"][0]["velocity"]
    # The reading of 08:14:50 holds for fifteen seconds, five of them into the fault.
    assert (told["known_s"], told["unknown_s"], told["beyond_s"]) == (600 - 55, 55, 0)


def test_a_calibration_that_failed_later_puts_the_probe_in_doubt_back_to_the_last_good_one(week: Callable) -> None:
    def write(store: Store) -> None:
        say(store, "calibration", at(0, 7, 0), GOOD)
        say(store, "calibration", at(8, 7, 0), FAILED)

    log, _ = week(write)
    assert not probe_of(log)["in_force"] and [one["fault"] for one in probe_of(log)["faults"]] == ["failed_calibration"]
    assert log["periods"][0]["velocity"]["known_s"] == 0
    before = week(lambda store: None)  # the same store, asked again: what is known now stays known
    assert before[0]["periods"][0]["velocity"]["known_s"] == 0


def test_a_good_calibration_alone_leaves_no_doubt(week: Callable) -> None:
    log, _ = week(lambda store: say(store, "calibration", at(0, 7, 0), GOOD))
    assert probe_of(log)["in_force"] and probe_of(log)["faults"] == []
    assert log["periods"][0]["velocity"]["known_s"] == 600 and log["months"][-1]["velocity"]["hours_recorded"] == 1


def test_the_time_below_the_minimum_is_not_known_where_nothing_was_read(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True, create=True) as store:
        start = at(0, 8, 0)
        times = range(start, start + HOUR, 10 * SECOND)
        store.readings.append([Reading("north/mode", us, us, "spray", "", 1.0, 1) for us in times])
        log = build_ventilation(shop(), store, "north", *MONDAY, NOW)
        page = ventilation_document(shop(), store, log, "html").decode()
        csv = ventilation_document(shop(), store, log, "csv").decode()
    (row,) = (row for row in log["periods"])
    assert row["modes_s"]["spray"] == HOUR / SECOND + 5 and row["guns_on_s"] is None
    assert row["velocity"]["beyond_s"] is None and row["pressure"]["beyond_s"] is None
    assert any("isn't known: nobody read it then" in one for one in log["summary"])
    assert "0 s" not in page[page.index("Air while spraying") : page.index("Pressure while spraying")]
    header, cells = (line.split(",") for line in csv.splitlines()[:2])
    assert dict(zip(header, cells, strict=True))["velocity_beyond_s"] == ""
    said = booth("ventilation", "north", "--from", "2026-10-26", "--to", "2026-10-26", config=Path("config"), store=tmp_path)
    assert "below the minimum not known" in " ".join(said.out.split())


def test_a_purge_that_began_before_the_period_counts_for_its_bake(tmp_path: Path) -> None:
    """Spray to 23:50, purge at 10 m³/s to 00:05, bake: the log of the day of the bake has 15 minutes of it, 9000 m³ by 190 m³."""
    with Store.open(tmp_path, writer=True, create=True) as store:
        course = ((at(0, 23, 40), at(0, 23, 50), 1.0), (at(0, 23, 50), at(1, 0, 5), 3.0), (at(1, 0, 5), at(1, 0, 30), 4.0))
        for begin, past, mode in course:
            for us in range(begin, past, 10 * SECOND):
                store.readings.append([Reading("north/mode", us, us, "", "", mode, 1)])
                store.readings.append([Reading("north/exhaust-flow", us, us, "10", "m^3/s", 10.0, 1)])
        (bake,) = build_ventilation(shop(), store, "north", at(1, 0, 0), at(2, 0, 0), NOW)["bakes"]
        day_before = build_ventilation(shop(), store, "north", at(0, 0, 0), at(1, 0, 0), NOW)["bakes"]
    assert bake["volumes"] == pytest.approx(15 * 60 * 10 / 190)
    assert (parse_time(bake["purge_from"]), parse_time(bake["purge_to"])) == (at(0, 23, 50), at(1, 0, 5))
    assert day_before == []
