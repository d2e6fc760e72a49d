"""The ventilation log of a made-up week with every kind of hole. Expected figures are worked out by hand from made_up_week.py."""

from __future__ import annotations

import copy
import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_up_week import MONDAY, ZONE, at, fill, say, shop, shop_with_interlock
from pypdf import PdfReader

from booth.reports.ventilation import NoSuchLog, build_ventilation
from booth.reports.ventilation_csv import ventilation_csv
from booth.reports.ventilation_document import rendered, traces_of, ventilation_document
from booth.reports.ventilation_papers import in_force
from booth.reports.ventilation_periods import months_until, periods
from booth.store import Reading, Store
from booth.times import HOUR, SECOND, from_datetime, parse_time

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
START, END = from_datetime(MONDAY), at(7, 0, 0)
NOW = END + 24 * HOUR
GRID = {"mode": "spray", "state": "loaded", "instrument": "AN-2", "rule": "equal-area", "index": "0.5 m/s", "area": "24 m^2"}
GRID |= {"velocities": {"A1": "0.44 m/s", "A2": "0.46 m/s", "B1": "0.40 m/s", "B2": "0.50 m/s"}}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with Store.open(tmp_path_factory.mktemp("week"), writer=True, create=True) as opened:
        fill(opened)
        say(opened, "grid", at(0, 7, 0), GRID)
        calibrated = {"point": "air-velocity", "result": "passed", "valid_until": "2027-01-31T06:00:00Z"}
        say(opened, "calibration", at(0, 7, 0), calibrated)
        say(opened, "fit-test", at(1, 7, 0), {"respirator": "hood", "valid_until": "2026-10-30T05:00:00Z"})
        say(opened, "review", at(6, 10, 0), {"from": "2026-10-26T05:00:00Z", "to": "2026-11-02T06:00:00Z"}, text="Seen.")
        yield opened


@pytest.fixture(scope="module")
def log(store: Store) -> dict:
    return build_ventilation(shop(), store, "north", START, END, NOW)


@pytest.fixture(scope="module")
def week(log: dict) -> dict[str, dict]:
    return dict(zip(DAYS, log["periods"], strict=True))


def test_a_whole_day(week: dict) -> None:
    day = week["monday"]
    assert day["modes_s"] == {"idle": 1020 + 5, "spray": 600, "flash": 0, "purge": 180, "bake": 1800, "cool": 0, "fault": 0}
    assert day["mode_unknown_s"] == 24 * 3600 - 3600 - 5
    assert day["guns_on_s"] == 600
    assert day["velocity"]["mean"] == pytest.approx((540 * 0.5 + 60 * 0.3) / 600)
    assert (day["velocity"]["lowest"], day["velocity"]["highest"], day["velocity"]["known_s"]) == (0.3, 0.5, 600)
    assert day["air_changes"] == pytest.approx(3600 * 19 / 190)
    assert (day["pressure"]["mean"], day["filters"]["exhaust"]["mean"], day["filters"]["intake"]) == (4, 100, None)


def test_time_below_the_minimum_by_the_clock_and_as_a_share(week: dict) -> None:
    told = week["monday"]["velocity"]
    assert (told["minimum"], told["beyond_s"], told["beyond_share"]) == (0.4, 60, pytest.approx(0.1))
    (stretch,) = told["beyond"]
    assert (parse_time(stretch["from"]), parse_time(stretch["to"]), stretch["worst"]) == (at(0, 8, 15), at(0, 8, 16), 0.3)


def test_a_silent_probe_is_a_hole_and_no_good_air(week: dict) -> None:
    told = week["tuesday"]["velocity"]
    assert (told["known_s"], told["unknown_s"], told["beyond_s"]) == (485, 115, 0)  # the last one held for 5 s


def test_a_silent_controller_leaves_the_use_unknown(week: dict) -> None:
    day = week["wednesday"]
    assert (day["modes_s"]["spray"], day["velocity"]["known_s"]) == (485, 485)
    assert day["mode_unknown_s"] == 24 * 3600 - 3600 - 5 + 115


def test_of_two_values_for_one_moment_neither_is_used(week: dict) -> None:
    assert week["thursday"]["velocity"]["unknown_s"] == 5


def test_what_nobody_measured_is_missing_and_not_zero(week: dict) -> None:
    assert week["friday"]["filters"]["exhaust"] | {"point": ""} == {
        "point": "", "mean": None, "lowest": None, "highest": None, "known_s": 0
    }  # fmt: skip


def test_a_day_without_a_word(week: dict) -> None:
    day = week["saturday"]
    assert day["mode_unknown_s"] == 24 * 3600 and sum(day["modes_s"].values()) == 0
    assert day["velocity"]["mean"] is None and day["velocity"]["beyond_share"] is None and day["air_changes"] is None


def test_the_day_on_which_the_clocks_turn_has_25_hours(week: dict) -> None:
    day = week["sunday"]
    assert parse_time(day["to"]) - parse_time(day["from"]) == 25 * HOUR
    assert sum(day["modes_s"].values()) + day["mode_unknown_s"] == 25 * 3600


def test_the_fixed_probe_is_tied_to_the_latest_grid(log: dict, week: dict) -> None:
    assert log["grid"]["mean"] == pytest.approx(0.45) and log["grid"]["factor"] == pytest.approx(0.9)
    tied = week["tuesday"]["grid_velocity"]
    assert (tied["mean"], tied["lowest"]) == (pytest.approx(0.45), pytest.approx(0.40))
    assert week["saturday"]["grid_velocity"] is None


def test_fresh_air_before_each_bake_in_volumes(log: dict) -> None:
    assert [one["volumes"] for one in log["bakes"][:4]] == pytest.approx([19 * 180 / 190] * 4)
    assert log["bakes"][0]["volumes_uncertainty"] == pytest.approx(1 * 180 / 190)
    friday = log["bakes"][4]
    assert parse_time(friday["start"]) == at(4, 8, 23) and friday["volumes"] is None and friday["purge_from"] is None
    assert any("No flow was recorded in a purge before 1 of 5 bakes" in sentence for sentence in log["summary"])


def test_gaps_are_gaps(log: dict) -> None:
    of = {name: [one for one in log["gaps"] if one["point"] == f"north/{name}"] for name in ("air-velocity", "mode", "gun-2")}
    assert {"spraying_s": 115, "seconds": 115} in [{k: one[k] for k in ("spraying_s", "seconds")} for one in of["air-velocity"]]
    assert 115 in [one["seconds"] for one in of["mode"]]
    assert sum(one["seconds"] for one in of["gun-2"]) == (END - START) / SECOND  # it never spoke


def test_the_filter_loads_and_the_date_is_not_told_further_than_it_is_known(log: dict) -> None:
    exhaust, intake = log["filters"]
    trend = exhaust["trend"]
    assert (trend["by"], trend["points"]) == ("day", 4)
    assert trend["slope_per_day"] == pytest.approx(5, rel=0.02)  # local days, readings in UTC ones
    assert trend["expected"] is None and trend["why"] == "further ahead than the line reaches back"
    assert intake["trend"] is None and intake["changed"] is None


def test_instruments_with_and_without_calibration(log: dict) -> None:
    told = {one["point"]: one for one in log["instruments"]}
    assert told["north/air-velocity"]["in_force"] and not told["north/exhaust-flow"]["in_force"]
    assert told["north/exhaust-flow"]["calibrations"] == []


def test_calibrations_that_follow_each_other_leave_no_gap() -> None:
    assert in_force([(0, 50), (40, 100)], 10, 90)
    assert not in_force([(0, 50), (60, 100)], 10, 90)
    assert not in_force([(20, 100)], 10, 90)


def test_nobody_is_named_for_a_fit_test(log: dict, store: Store) -> None:
    (fit,) = (one for one in log["care"] if one["kind"] == "fit-test")
    assert fit["by"] is None
    assert [one["sentence"] for one in log["due"] if one["kind"] == "fit-test"] == ["Fit test: 1 of 1 on record ran out"]


def test_months_from_hourly_summaries(log: dict) -> None:
    october, november = log["months"][-2:]
    assert (october["month"], october["velocity"]["hours_recorded"], october["velocity"]["lowest"]) == ("2026-10", 5, 0.2)
    assert (november["month"], november["velocity"]["mean"]) == ("2026-11", pytest.approx(0.1))
    assert log["months"][0]["velocity"]["mean"] is None and len(log["months"]) == 12


def test_shifts_cut_the_day_and_the_night_belongs_to_the_day_it_began() -> None:
    found = periods(START, START + 24 * HOUR, ZONE, shop(shifts=True).site.shifts)
    assert [(str(one.day), one.shift, (one.end - one.start) // HOUR) for one in found] == [
        ("2026-10-25", "late", 6), ("2026-10-26", "day", 8), ("2026-10-26", "late", 9)
    ]  # fmt: skip
    assert found[0].start == START and found[-1].end == START + 24 * HOUR
    assert all(one.end == other.start for one, other in zip(found, found[1:], strict=False))
    assert periods(END, END, ZONE) == []


def test_months_end_where_the_log_ends() -> None:
    found = months_until(at(6, 12, 0), ZONE, 3)
    assert [name for name, _, _ in found] == ["2026-09", "2026-10", "2026-11"]
    assert found[-1][2] == at(6, 12, 0) and found[0][2] == found[1][1]
    assert months_until(from_datetime(MONDAY.replace(month=3, day=2)), ZONE, 3)[0][0] == "2026-01"


@pytest.mark.parametrize(
    ("booth", "start", "end", "says"),
    [
        ("nroth", START, END, "write one of north, south"),
        ("mask-room", START, END, "not a booth that tells its mode"),
        ("north", END, START, "--from must be before --to"),
        ("north", NOW + HOUR, NOW + 2 * HOUR, "begins after"),
        ("north", START - 500 * 24 * HOUR, END, "100 days at most"),
    ],
)
def test_a_log_that_cant_be_made(store: Store, booth: str, start: int, end: int, says: str) -> None:
    with pytest.raises(NoSuchLog, match=says):
        build_ventilation(shop(), store, booth, start, end, NOW)


def test_trips_of_the_interlock_and_faults(tmp_path: Path) -> None:
    own = shop_with_interlock()
    with Store.open(tmp_path, writer=True, create=True) as opened:
        states = [(0, 1.0), (10, 1.0), (20, 0.0), (30, 0.0), (40, 1.0)]
        faults = [(second, 6.0 if 20 <= second < 40 else 1.0) for second, _ in states]
        for point, told in (("fan-interlock", states), ("mode", faults)):
            times = [(at(0, 8, 0, second), value) for second, value in told]
            opened.readings.append([Reading(f"north/{point}", us, us, f"{value}", "", value, 1) for us, value in times])
        made = build_ventilation(own, opened, "north", START, END, NOW)
    (trip,) = made["interlock"]["open"]
    assert (parse_time(trip["from"]), parse_time(trip["to"])) == (at(0, 8, 0, 20), at(0, 8, 0, 40))
    assert [parse_time(one["from"]) for one in made["interlock"]["faults"]] == [at(0, 8, 0, 20)]
    assert "The fan's interlock opened 1 time." in made["summary"]


def test_a_fault_over_midnight_stands_in_the_log_of_either_day(tmp_path: Path) -> None:
    midnight = at(1, 0, 0)
    with Store.open(tmp_path, writer=True, create=True) as opened:
        moments = range(midnight - 600 * SECOND, midnight + 610 * SECOND, 10 * SECOND)
        told = [(us, 6.0 if abs(us - midnight) < 300 * SECOND else 0.0) for us in moments]
        opened.readings.append([Reading("north/mode", us, us, f"{value}", "", value, 1) for us, value in told])
        logs = [build_ventilation(shop(), opened, "north", *day, NOW) for day in ((START, midnight), (midnight, at(2, 0, 0)))]
    (before,), (after,) = (log["interlock"]["faults"] for log in logs)
    assert (parse_time(before["from"]), before["to"]) == (midnight - 290 * SECOND, None)
    assert (parse_time(after["from"]), parse_time(after["to"])) == (midnight, midnight + 300 * SECOND)


def test_csv_has_a_row_for_each_period_and_leaves_the_unknown_empty(log: dict, store: Store) -> None:
    rows = list(csv.DictReader(io.StringIO(ventilation_document(shop(), store, log, "csv").decode())))
    assert len(rows) == 7
    assert (rows[0]["spray_s"], rows[0]["velocity_beyond_s"], rows[0]["flow_mean_m3_s"]) == ("600.0", "60.0", "19.0")
    assert (rows[5]["velocity_mean_m_s"], rows[4]["filter_exhaust_mean_pa"]) == ("", "")


@pytest.fixture(scope="module")
def page(log: dict, store: Store) -> str:
    return ventilation_document(shop(), store, log, "html").decode()


def test_the_document_says_what_it_must_and_never_what_it_may_not(page: str) -> None:
    for words in ("equals 18.0 ± 0.9 volumes", "no purge with a recorded flow", "Reviewed by ____", "Local regulations", "Seen."):
        assert words in page
    body = page[: page.index(">Cautions<")].lower()
    for words in ("is safe", "was safe", "purged", "clear to enter", "compliant", "badge-40/hood"):
        assert words not in body


def test_the_pages_have_every_section(log: dict, store: Store) -> None:
    reader = PdfReader(io.BytesIO(rendered(log, traces_of(shop(), store, log), "pdf")))
    text = "\n".join(one.extract_text() for one in reader.pages)
    for words in ("Use of the booth", "Air while spraying", "Gaps in the data", "What is due", "Months at a glance", "Signature"):
        assert words in text


def test_a_booth_that_measures_little_still_has_a_log(log: dict, store: Store) -> None:
    bare = copy.deepcopy(log) | {"grid": None, "clearance": None, "filters": [], "months": [], "volume_m3": None, "permit": None}
    for row in bare["periods"]:
        row |= {"velocity": None, "flow": None, "pressure": None, "filters": {}, "air_changes": None, "grid_velocity": None}
        row["guns_on_s"] = None
    traces = traces_of(shop(), store, log)
    page = rendered(bare, traces, "html").decode()
    assert "No clearance time is on record" in page and "an index that nothing ties to the air" in page
    assert "no reference entered" in page and rendered(bare, traces, "pdf").startswith(b"%PDF-")
    assert len(ventilation_csv(bare).splitlines()) == 8


def test_what_people_wrote_is_shown_and_never_run(tmp_path: Path) -> None:
    hostile = "<script>alert(1)</script> #panic() \u202e"
    with Store.open(tmp_path, writer=True, create=True) as opened:
        say(opened, "filter-changed", at(0, 7, 0), {"filter": "exhaust", "paper": hostile})
        say(opened, "review", at(1, 7, 0), {"from": "2026-10-26T05:00:00Z", "to": "2026-10-27T05:00:00Z"}, text=hostile)
        made = build_ventilation(shop(), opened, "north", START, END, NOW)
        traces = traces_of(shop(), opened, made)
    page = rendered(made, traces, "html").decode()
    assert "<script>" not in page and "&lt;script&gt;" in page and "[U+202E]" in page
    text = "\n".join(one.extract_text() for one in PdfReader(io.BytesIO(rendered(made, traces, "pdf"))).pages)
    assert "#panic()" in text


def test_an_empty_store_makes_a_log_of_nothing(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True, create=True) as empty:
        made = build_ventilation(shop(), empty, "north", START, END, NOW)
        assert ventilation_document(shop(), empty, made, "html")
        assert not made["config"]["in_force_then"] and made["bakes"] == [] and made["alarms"] == []
        assert all(row["velocity"]["mean"] is None for row in made["periods"])
