"""From findings to conditions: each kind of thing that can be wrong, and since when it is so."""

from __future__ import annotations

import numpy as np
import pytest

from booth.alarms.heading import EVERY_US, headed, moments
from booth.alarms.silence import silences, silent
from booth.alarms.watching import Where, conditions_of, missed_since
from booth.judge.evidence import Evidence
from booth.judge.facts import Mix
from booth.judge.finding import Finding, Verdict, Window
from booth.judge.health.terms import longest_pause
from booth.judge.judge import judge
from booth.judge.series import Series
from booth.judge.track import Stretch
from booth.judge.trend import Heading
from booth.physics.pace import Pace
from booth.shop.requirement import PotTerms
from booth.times import MINUTE, SECOND
from tests.judge.made_up import a_requirement

START = 1_700_000_000 * SECOND
WARN = 5 * MINUTE
WHERE = Where("south", "V-1", 1, 60 * SECOND, "Stop.")


def at(minute: float) -> int:
    return START + round(minute * MINUTE)


def finding(kind: str, verdict: Verdict = Verdict.UNPROVEN, final: bool = False, **known) -> Finding:
    known = {"start": START, "end": at(10)} | known
    return Finding(f"step/{kind}", kind, "step", verdict, final, "A sentence", "duration", None, None, "sheet", **known)


def conditions(found: Finding, now: float, where: Where = WHERE) -> list:
    return list(conditions_of(found, where, at(now), WARN))


def excursions(*spans: tuple[float, float]) -> tuple[Stretch, ...]:
    return tuple(Stretch(at(a), at(b), 1.0) for a, b in spans)


def test_a_miss_is_latched_since_the_end_of_its_grace() -> None:
    one, *warnings = conditions(finding("dew_point_margin", Verdict.MISSED, excursions=excursions((1, 1.5), (2, 6))), 10)
    assert (one.priority, one.latched, one.until) == ("alarm", True, None)
    assert one.since == at(3)  # the first one was within the grace of a minute
    assert [(each.id, each.priority, each.since) for each in warnings] == [(one.id, "warning", at(1)), (one.id, "warning", at(2))]
    assert (one.id, one.booth, one.what_to_do) == ("V-1/1/step/dew_point_margin", "south", "Stop.")


def test_a_missed_window_counts_from_its_end_and_says_by_how_much() -> None:
    [one] = conditions(finding("bake_start", Verdict.MISSED, window=Window(None, at(8)), start=None), 10)
    assert (one.since, one.overrun_us) == (at(8), 2 * MINUTE)


@pytest.mark.parametrize("kind", ["bake_start", "induction", "gate"])
def test_what_is_missed_by_beginning_is_missed_then(kind: str) -> None:
    early = finding(kind, Verdict.MISSED, final=True, window=Window(at(5), at(60)) if kind == "bake_start" else None)
    assert {missed_since(early, 0, at(now)) for now in (10, 20, 30)} == {START}


def test_a_window_about_to_close_is_a_warning_with_a_fixed_beginning() -> None:
    found = finding("flash_maximum", window=Window(None, at(20)))
    assert conditions(found, 14.9) == []
    assert {conditions(found, now)[0].since for now in (15, 17, 20)} == {at(15)}
    assert conditions(found, 21)[0].until is None  # it is late, and nobody can tell yet by how much: silence never clears


def test_the_warning_ends_when_the_step_came_in_time() -> None:
    begun = finding("bake_start", Verdict.MET, final=True, window=Window(None, at(20)), start=at(18), end=at(25))
    [one] = conditions(begun, 25)
    assert (one.since, one.until) == (at(15), at(18))
    begun = finding("bake_start", Verdict.MET, final=True, window=Window(None, at(20)), start=at(12), end=at(25))
    assert conditions(begun, 25) == []


def test_a_clock_that_ended_in_time_raises_nothing_after_the_fact() -> None:
    """Two-pack clear at 20 °C, used for 82 of its 90 minutes: warned of neither while it was used nor when it was over."""
    pot = Pace.table([(20, 5400), (30, 2700)])
    life = a_requirement("pot_life", PotTerms(pot, "pot"), "number", high=1.0)
    mix = Mix("M-1", "clear", at(0), None, None, "pot-1")
    readings = Series(np.arange(at(0), at(90), 5 * SECOND), np.full(90 * 12, 20.0), 15 * SECOND)
    known = {"mix": mix, "mix_named": "M-1", "uncertainty": {"pot_temperature": 0.2}}

    def told(end: int | None, now: int) -> list:
        evidence = Evidence(at(70), end, series={"pot_temperature": readings.until(now)}, **known)
        return list(conditions_of(judge(life, evidence, now), WHERE, now, WARN))

    assert told(None, at(82)) == []
    assert told(at(82), at(83)) == told(at(82), at(95)) == []
    assert [one.priority for one in told(None, at(85))] == ["warning"]


def test_out_of_limits_within_the_grace_is_a_warning_that_ends_with_the_excursion() -> None:
    found = finding("relative_humidity", excursions=excursions((1, 1.5), (9.5, 10)))
    first, second = conditions(found, 10)
    assert (first.since, first.until, first.latched) == (at(1), at(1.5), False)
    assert (second.since, second.until) == (at(9.5), None)
    assert [one.until for one in conditions(finding("relative_humidity", final=True, excursions=excursions((9.5, 10))), 12)] == [
        at(10)
    ]


def test_an_excursion_that_ended_in_silence_isnt_over() -> None:
    found = finding("relative_humidity", excursions=excursions((1, 1.5), (5, 6)))
    silent_now = Where("south", "V-1", 1, 60 * SECOND, "", silent_since=at(6))
    assert [one.until for one in conditions(found, 10, silent_now)] == [at(1.5), None]


def test_another_mode_is_a_miss_only_when_the_step_is_over() -> None:
    """While it goes on, somebody may simply have forgotten the end: entering it mends it."""
    running = finding("mode", Verdict.MISSED, excursions=excursions((2, 5)))
    [one] = conditions(running, 6)
    assert (one.priority, one.latched, one.since, one.until) == ("warning", False, at(3), at(5))
    assert "enter its end" in one.sentence
    assert conditions(finding("mode", Verdict.MISSED, excursions=excursions((2, 5)), span_source="inferred"), 6) == []
    [over] = conditions(finding("mode", Verdict.MISSED, final=True, excursions=excursions((2, 5))), 12)
    assert (over.priority, over.latched, over.since) == ("alarm", True, at(3))


@pytest.mark.parametrize("kind", ["calibration", "lots", "done", "check"])
def test_papers_are_not_for_the_beacon(kind: str) -> None:
    assert conditions(finding(kind, Verdict.MISSED, final=True), 10) == []


@pytest.mark.parametrize("kind", ["peak", "dwell", "heating_rate", "appearance", "air_velocity"])
def test_what_is_met_says_nothing(kind: str) -> None:
    assert conditions(finding(kind, Verdict.MET, final=True), 10) == []


# A measure on its way out

HEADING = Heading(21.5, 20.0, -0.25 / 60, 360.0, 230.0)
COMMON = {"id": "V-1/1/base-1/air_temperature", "booth": "south", "requirement": "base-1/air_temperature"}


def half_minutes(*told: Heading | None) -> list[tuple[int, Heading | None]]:
    return [(START + index * EVERY_US, one) for index, one in enumerate(told)]


def test_a_heading_is_told_from_the_second_half_minute_on() -> None:
    assert list(headed(half_minutes(None, HEADING, None), "air_temperature", COMMON, None)) == []
    [one] = headed(half_minutes(None, HEADING, HEADING, HEADING), "air_temperature", COMMON, None)
    assert (one.priority, one.since, one.until) == ("warning", START + 2 * EVERY_US, None)
    assert one.sentence == "Air temperature is 21.5 °C; at this rate it crosses 20.0 °C in about 6 min (3 min at the soonest)"
    [one] = headed(half_minutes(HEADING, HEADING, None), "air_temperature", COMMON, None)
    assert one.until == START + 2 * EVERY_US
    [one] = headed(half_minutes(HEADING, HEADING), "air_temperature", COMMON, START + 40 * SECOND)
    assert one.until == START + 40 * SECOND


def test_the_moments_are_the_same_for_everybody() -> None:
    seen = {moment for now in range(0, 600, 7) for moment in moments(at(1), at(1) + now * SECOND)}
    assert all(moment % EVERY_US == 0 for moment in seen)
    assert min(seen) >= at(1)
    assert len(moments(at(0), at(60))) * EVERY_US > 2 * MINUTE


# Silence


def spans(spoken: list[float], now: float, start: float = 0, end: float | None = None) -> list[tuple]:
    times = np.array([at(minute) for minute in spoken], np.int64)
    ends = None if end is None else at(end)
    found = silences(times, 30 * SECOND, at(start), ends, at(now))
    return [((since - START) / MINUTE, None if until is None else (until - START) / MINUTE) for since, until in found]


def test_a_silence_begins_when_the_pause_is_too_long_and_ends_when_it_speaks() -> None:
    assert spans([0, 0.5, 1], 1.5) == []
    assert spans([0, 0.5, 1], 3) == [(1.5, None)]
    assert spans([0, 1.5, 2], 2.2) == [(0.5, 1.5)]
    assert spans([], 3) == [(0.5, None)]


def test_only_while_the_point_is_needed() -> None:
    assert spans([0], 10, start=5) == [(5, None)]
    assert spans([0], 10, start=5, end=8) == [(5, 8)]
    assert spans([0, 4], 4.2, start=5) == []
    assert spans([0], 10, start=5, end=20) == [(5, None)]


def test_how_long_a_pause_may_be() -> None:
    """Twice the max_age, and 30 s at least."""
    assert longest_pause(5 * SECOND) == 30 * SECOND
    assert longest_pause(60 * SECOND) == 120 * SECOND


def test_it_goes_to_whoever_can_do_something() -> None:
    one = silent("south", "humidity", START, None, "painter")
    assert (one.id, one.priority, one.audience) == ("south/humidity/stale", "warning", "painter")
