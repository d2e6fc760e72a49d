"""Instrument health through logger and store: the journal, the alarms, the evidence, restarts, late readings, calibrations."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from plants import CONFIG
from stage import GOOD, START, Stage, at, open_job

from booth.diagnosing import diagnose_past
from booth.judge.health.terms import terms_of
from booth.judge.ledger import Ledger
from booth.overview import build_status
from booth.reports.record import build_record, judge_vehicle
from booth.shop.shop import Shop, load_shop, read_files
from booth.store import Store
from booth.times import SECOND, format_time
from booth.web.desk.instruments_view import instrument_rows

PARTNER = """
[points.air-temperature-2]
measure = "air_temperature"
unit = "degC"
range = ["-20 degC", "120 degC"]
max_age = "15 s"
instrument = { name = "TH-S2", type = "combined probe", expanded_uncertainty = "0.4 K" }
health = { partner = "air-temperature", disagree_after = "1 min" }

[points.air-velocity]"""


def shop() -> Shop:
    """The demonstration's, in which the south booth's air temperature is watched more closely."""
    files = read_files(CONFIG)
    south = files["booths/south.toml"].replace("\n[points.air-velocity]", PARTNER, 1)
    closely = 'health = { stuck_after = "2 min", stuck_modes = ["spray", "flash"], jump = "5 K" }'
    lines = south.splitlines()
    first = next(index for index, line in enumerate(lines) if line.startswith("health"))
    lines[first] = closely
    files["booths/south.toml"] = "\n".join(lines)
    return load_shop(files)


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Store.open(tmp_path, writer=True) as store:
        yield Stage(store, shop())


def wobbly(second: float) -> float:
    return 23.0 + 0.1 * (second // 5 % 2)


def faults(stage: Stage, kind: str | None = None) -> list[tuple[str, str, float, float | None]]:
    """What the journal has standing: (point, fault, start, end), by seconds."""
    ledger = stage.watch.ledger
    found = [one for point in ledger.watched_points for one in ledger.health(point) if not one.withdrawn]
    return [
        (one.point, one.fault, (one.start - START) / SECOND, None if one.end is None else (one.end - START) / SECOND)
        for one in found
        if kind in (None, one.fault)
    ]


def a_coat(stage: Stage, end: int = 300, after: int = 420, **values: object) -> None:
    """One coat of five minutes with the readings given, and some time after it."""
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, end, 5), "spray", **({"air_temperature": wobbly} | values))
    stage.say(end, "step-end", vehicle="V-1", step="clear-1")
    stage.air(range(end, after, 5), "flash", air_temperature=wobbly)


def finding(stage: Stage, requirement: str):
    return stage.watch.seen["V-1", f"clear-1/{requirement}"].finding


def recorded(stage: Stage, requirement: str, as_of: float, known_by: float | None = None) -> dict:
    """What the record says of it, with what was issued."""
    known = None if known_by is None else at(known_by)
    record = build_record(judge_vehicle(stage.shop, stage.store, "V-1", at(as_of), known))
    told = [one for step in record["rounds"][0]["steps"] for one in step["findings"]]
    return next(one for one in told if one["requirement"] == f"clear-1/{requirement}")


def test_healthy_instruments_have_no_faults_and_prove_what_they_show(stage: Stage) -> None:
    a_coat(stage, humidity=40.0)
    assert faults(stage) == []
    assert finding(stage, "air_temperature").verdict == "met"


def test_a_stuck_probe_is_told_in_its_time_and_proves_nothing(stage: Stage) -> None:
    a_coat(stage, humidity=40.0, air_temperature=lambda second: 23.0 if 60 <= second < 240 else 23.1 + second / 1000)
    assert faults(stage) == [("south/air-temperature", "stuck", 60, 240)]
    entries = list(stage.store.journal.entries(kinds=["health"]))
    assert [entry.channel for entry in entries] == ["logger"] * 2  # its beginning and its end
    assert entries[0].recorded <= at(60 + 120 + 30 + 15)  # stuck_after, the allowed lateness, and the next look
    [first, *_] = stage.alarms("south/air-temperature/stuck")
    assert first[1:] == ("unacknowledged", 190, "warning")  # proven at 180, and the on-delay
    assert {m["audience"] for _, m in stage.ears.heard if m["requirement"] == "stuck"} == {"painter"}  # the coat needs it
    told = finding(stage, "air_temperature")
    assert told.verdict == "unproven" and "south/air-temperature was stuck 07:01–07:04" in told.sentence
    assert recorded(stage, "air_temperature", 420)["sentence"] == told.sentence  # one judge
    assert finding(stage, "air_velocity" if False else "booth:air_velocity").verdict == "met"  # others are no worse for it


def test_a_jump_and_a_reading_out_of_range_are_the_instruments_and_not_the_airs(stage: Stage) -> None:
    a_coat(
        stage,
        humidity=lambda second: 200.0 if second == 50 else 40.0,
        air_temperature=lambda second: 60.0 if second == 100 else wobbly(second),
    )
    assert faults(stage) == [
        ("south/air-temperature", "jumping", 100, 105 + 30),
        ("south/humidity", "out_of_range", 50, 50 + 30),
    ]
    assert finding(stage, "air_temperature").verdict != "missed"


def test_two_probes_that_disagree_are_neither_believed(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    """0.4 K each: √(0.4² + 0.4²) = 0.57 K."""
    monkeypatch.setitem(GOOD, "air-temperature-2", (23.0, "degC"))
    a_coat(stage, humidity=40.0, air_temperature_2=lambda second: wobbly(second) + (0.6 if 60 <= second < 240 else 0.5))
    assert faults(stage, "disagrees") == [(f"south/air-temperature{end}", "disagrees", 60, 240) for end in ("", "-2")]
    assert finding(stage, "air_temperature").verdict == "unproven"


def test_a_clock_that_is_off_is_estimated_and_never_restamped(stage: Stage) -> None:
    open_job(stage)
    for second in range(0, 720, 5):
        stage.measure(second - 40, now=second, humidity=40.0)  # its clock is 40 s behind
        stage.measure(second, now=second, air_temperature=wobbly(second), mode="idle")
        stage.look(second)
    assert [one[:2] for one in faults(stage, "clock_off")] == [("south/humidity", "clock_off")]
    [entry] = [entry for entry in stage.store.journal.entries(kinds=["health"]) if entry.body["fault"] == "clock_off"]
    assert entry.body["offset_s"] == 40
    assert next(iter(stage.store.readings.rows("south/humidity", at(-60), at(720)))).time == at(-40)


def test_a_restart_at_any_moment_says_nothing_twice(stage: Stage, tmp_path_factory: pytest.TempPathFactory) -> None:
    def play(one: Stage, restart_every: int | None) -> list:
        open_job(one)
        for second in range(0, 600, 5):
            stuck = 60 <= second < 240
            value = None if 300 <= second < 400 else 23.0 if stuck else 23.1 + second / 1000
            one.air([second], "spray", air_temperature=value)
            if restart_every and second % restart_every == 0:
                one.restart()
        return faults(one)

    with Store.open(tmp_path_factory.mktemp("restarts"), writer=True) as store:
        other = Stage(store, shop())
        again = play(other, 25)
        entries = [entry.id for entry in store.journal.entries(kinds=["health"])]
    assert play(stage, None) == again
    assert entries == [entry.id for entry in stage.store.journal.entries(kinds=["health"])]
    assert [one[1:] for one in again if one[0] == "south/air-temperature"] == [("stuck", 60, 240), ("stale", 325, 400)]


def test_a_late_reading_takes_a_silence_back(stage: Stage) -> None:
    a_coat(stage, humidity=lambda second: None if 100 <= second < 220 else 40.0)
    assert faults(stage) == [("south/humidity", "stale", 125, 220)]
    assert "south/humidity sent nothing" in finding(stage, "relative_humidity").sentence
    for second in range(100, 220, 5):
        stage.measure(second, now=420, humidity=40.0)
    stage.look(440)
    assert faults(stage) == []
    assert finding(stage, "relative_humidity").verdict == "met"
    # As it was believed before they came: the silence stands.
    assert recorded(stage, "relative_humidity", 440, known_by=419)["verdict"] == "unproven"


def test_readings_out_of_files_are_looked_at_too(stage: Stage, tmp_path_factory: pytest.TempPathFactory) -> None:
    """The same readings with no logger over them, then looked at as a replay does: the same entries."""
    a_coat(stage, humidity=lambda second: None if 100 <= second < 220 else 40.0, air_temperature=lambda second: 23.0)
    with Store.open(tmp_path_factory.mktemp("files"), writer=True) as store:
        names = [f"south/{name}" for name in stage.shop.booths["south"].points]
        store.readings.append([one for name in names for one in stage.store.readings.rows(name, at(-100), at(500))])
        for _ in range(2):
            diagnose_past(stage.shop, store, at(0), at(415), at(9000))
        ledger = Ledger(store.journal.entries())
        known = [(one.point, one.fault, one.start, one.end) for name in sorted(names) for one in ledger.health(name)]
    assert known == [
        ("south/air-temperature", "stuck", at(0), at(305)),
        ("south/humidity", "stale", at(125), at(220)),
    ]


def calibrate(stage: Stage, second: float, result: str, days: float = 300, point: str = "air-temperature") -> None:
    until = format_time(at(second + days * 86400))
    stage.say(second, "calibration", point=point, result=result, valid_until=until, now=max(second, -60))


def test_a_failed_as_found_calibration_marks_every_record_since_the_last_good_one(stage: Stage) -> None:
    calibrate(stage, -90_000, "passed")
    a_coat(stage, humidity=40.0)
    issued = recorded(stage, "air_temperature", 420)
    assert (issued["verdict"], issued["as_issued"]["verdict"]) == ("met", "met")
    calibrate(stage, 900, "failed")
    stage.look(905)
    late = recorded(stage, "air_temperature", 905)
    assert (late["verdict"], late["as_issued"]["verdict"]) == ("unproven", "met")  # as issued, and as it is now
    assert "south/air-temperature failed its calibration, since 2026-07-12 06:00" in late["sentence"]
    assert recorded(stage, "air_temperature", 905, known_by=420)["verdict"] == "met"  # what was believed then
    calibrate(stage, 1000, "passed")
    stage.look(1040)
    assert recorded(stage, "air_temperature", 1040)["verdict"] == "unproven"  # a good one now doesn't mend what was
    assert stage.alarms("south/air-temperature/failed_calibration")[-1][1] == "returned_unacknowledged"


def test_out_of_calibration_proves_nothing_good_and_hides_nothing_bad(stage: Stage) -> None:
    calibrate(stage, -86_400, "passed", days=0.5)
    calibrate(stage, -86_400, "passed", days=0.5, point="humidity")
    a_coat(stage, humidity=95.0)
    told = finding(stage, "air_temperature")
    assert told.verdict == "unproven" and "was out of calibration" in told.sentence
    assert finding(stage, "relative_humidity").verdict == "missed"


def test_the_page_of_the_instruments(stage: Stage) -> None:
    calibrate(stage, -90_000, "passed")
    a_coat(stage, humidity=40.0, air_temperature=lambda second: 23.0 if second >= 60 else wobbly(second))
    ledger = Ledger(stage.store.journal.entries())
    rows = instrument_rows(stage.shop, stage.store, ledger, at(302), "SI")
    page = {one["point"]: one for one in rows if one["booth"] == "south"}
    probe = page["air-temperature"]
    assert probe["says"] == ["was stuck"] and probe["heard"] == at(300)
    assert (probe["calibration"]["state"], probe["calibration"]["until"]) == ("fine", at(-90_000 + 300 * 86400))
    assert page["filter-drop"]["heard"] is None and page["filter-drop"]["calibration"]["time"] is None
    status = {one["point"]: one for one in build_status(stage.shop, stage.store, at(302))["instruments"]}
    assert status["south/air-temperature"]["says"] == probe["says"]
    within = dict(terms_of(stage.shop, "south", "air-temperature").told_within())["stuck"]
    assert within + stage.shop.site.judging.allowed_lateness == 160 * SECOND
