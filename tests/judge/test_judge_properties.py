"""What must hold for any readings, whatever they are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judge import judge
from booth.judge.series import Series
from booth.judge.track import hold
from booth.physics.pace import Pace
from booth.shop.requirement import (
    ClimateLimit,
    ClimateTerms,
    DwellTerms,
    FlashTerms,
    HeatUpTerms,
    NoTerms,
    OverBakeTerms,
    PeakTerms,
    RateTerms,
    Requirement,
)
from booth.times import MINUTE, SECOND
from tests.judge.made_up import START, a_pass, a_requirement, at, line, part, series, span

PERIOD = 5 * SECOND
MAX_AGE = 15 * SECOND
DURATION = 60 * PERIOD  # five minutes


def climate(grace_s: int, guarded: bool = False) -> Requirement:
    terms = ClimateTerms(ClimateLimit("air_temperature", 20.0, 30.0), None, grace_s * SECOND, None, None)
    return a_requirement("air_temperature", terms, "temperature", low=20.0, high=30.0, guarded=guarded)


PACE = Pace.table([(60, 120), (70, 60)])
ON_PARTS = [
    a_requirement("heat_up", HeatUpTerms(60.0, 2 * MINUTE), "duration", high=120.0),
    a_requirement("heat_up", HeatUpTerms(60.0, 2 * MINUTE), "duration", high=120.0, guarded=True),
    *(
        a_requirement("dwell", DwellTerms(PACE, "part", rule, 60.0), "number", low=1.0)
        for rule in ("pause", "restart", "go_on", "not_stated")
    ),
    a_requirement("peak", PeakTerms("fibreglass"), "temperature", high=75.0),
    a_requirement("peak", PeakTerms("fibreglass"), "temperature", high=75.0, guarded=True),
    a_requirement("heating_rate", RateTerms(MINUTE), "heating_rate", high=15.0),
    a_requirement("over_bake", OverBakeTerms(60.0, 2 * MINUTE), "duration", high=120.0),
    a_requirement("flash_minimum", FlashTerms(PACE, "part"), "number", low=1.0),
    a_requirement("flash_maximum", FlashTerms(PACE, "part"), "number", high=1.0),
]

values = st.lists(st.floats(15, 85, width=32), min_size=60, max_size=60)
present = st.lists(st.booleans() | st.just(True), min_size=60, max_size=60)


def readings(shape: Sequence[float], there: Sequence[bool], max_age: int = MAX_AGE) -> Series:
    """One value every five seconds, where there is one."""
    keep = np.array(there, bool)
    times = START + PERIOD * np.arange(len(shape), dtype=np.int64)
    return Series(times[keep], np.array(shape, float)[keep], max_age)


def evidence_on(requirement: Requirement, known: Series, end: int | None) -> Evidence:
    uncertainty = {"part_temperature": 1.0, "air_temperature": 1.0}
    if requirement.kind.startswith("flash"):
        return Evidence(START, end, before=(a_pass(0, 0),), following=end, parts=(part(known),), uncertainty=uncertainty)
    return Evidence(START, end, "entered", {"air_temperature": known}, (part(known),), uncertainty=uncertainty)


@pytest.mark.parametrize("requirement", [climate(10), climate(30, guarded=True), *ON_PARTS], ids=lambda one: one.kind)
@settings(max_examples=25, deadline=None)
@given(shape=values, there=present)
def test_what_is_missed_stays_missed_as_time_goes_on(requirement: Requirement, shape, there) -> None:
    """Judged live every few seconds on what there was to see, and once more when the span is over."""
    known = readings(shape, there)
    missed = False
    for now in range(START, START + DURATION + PERIOD, 7 * SECOND):
        seen = known.until(now)
        end = START + DURATION if now >= START + DURATION else None
        verdict = judge(requirement, evidence_on(requirement, seen, end), now).verdict
        assert not missed or verdict is Verdict.MISSED, f"taken back at {(now - START) / SECOND} s"
        missed = verdict is Verdict.MISSED


@settings(max_examples=100, deadline=None)
@given(shape=values, there=present, later=st.integers(1, 400))
def test_a_final_finding_does_not_depend_on_when_it_is_asked_for(shape, there, later: int) -> None:
    known = readings(shape, there)
    for requirement in (climate(10), *ON_PARTS):
        evidence = evidence_on(requirement, known, START + DURATION)
        now = judge(requirement, evidence, START + DURATION)
        assert now.final and judge(requirement, evidence, START + DURATION + later * MINUTE) == now


RANK = {Verdict.MET: 1, Verdict.UNPROVEN: 0, Verdict.MISSED: 0}


def verdict_on(known: Series, grace_s: int, guarded: bool) -> Verdict:
    requirement = climate(grace_s, guarded)
    return judge(requirement, evidence_on(requirement, known, START + DURATION), START + DURATION).verdict


@settings(max_examples=150, deadline=None)
@given(
    shape=st.lists(st.floats(17, 33, width=32), min_size=60, max_size=60),
    lost=present,
    grace=st.integers(0, 60),
    guarded=st.booleans(),
)
def test_losing_readings_never_proves_anything(shape, lost, grace: int, guarded: bool) -> None:
    """Exactly: where a reading speaks only up to the next one's moment, taking any readings away never makes met of what wasn't.

    Where it speaks for longer, the one before a lost one speaks in its place; then the same holds for losing readings that are
    inside the limits (below), and not for others: within `max_age` nothing can tell that they were ever sent.
    """
    everything = [True] * len(shape)
    whole, less = (verdict_on(readings(shape, there, max_age=PERIOD), grace, guarded) for there in (everything, lost))
    assert RANK[less] <= RANK[whole]


@settings(max_examples=150, deadline=None)
@given(shape=st.lists(st.floats(17, 33, width=32), min_size=60, max_size=60), lost=present, grace=st.integers(0, 60))
def test_losing_readings_within_limits_never_proves_anything(shape, lost, grace: int) -> None:
    kept = [there or not 20 <= value <= 30 for there, value in zip(lost, shape, strict=True)]
    whole, less = (verdict_on(readings(shape, there), grace, False) for there in ([True] * len(shape), kept))
    assert RANK[less] <= RANK[whole]
    assert whole is not Verdict.MISSED or less is Verdict.MISSED  # a bad reading only speaks for longer


@settings(max_examples=100, deadline=None)
@given(shape=values, there=present, start=st.integers(-20, 200), length=st.integers(0, 200))
def test_a_track_says_what_the_newest_reading_says(shape, there, start: int, length: int) -> None:
    """hold() against the definition of holding, at any moment; a reading speaks for 13 s of a 5 s rhythm with gaps."""
    known = readings(shape, there, max_age=13 * SECOND)
    begin, end = START + start * SECOND, START + (start + length) * SECOND
    track = hold(known, begin, end)
    assert track.edges[0] == begin and (track.edges[-1] == end or begin == end) and (np.diff(track.edges) > 0).all()
    for moment in range(begin, end, SECOND):
        newest = [
            value
            for time, value in zip(known.times.tolist(), known.values.tolist(), strict=True)
            if time <= moment < time + known.max_age_us
        ]
        told = track.values[np.searchsorted(track.edges, moment, side="right") - 1]
        assert told == newest[-1] if newest else np.isnan(told)


@settings(max_examples=60, deadline=None)
@given(heights=st.lists(st.floats(50, 80, width=32), min_size=7, max_size=7), span_min=st.integers(4, 6))
def test_sampling_every_second_or_every_five_agrees(heights, span_min: int) -> None:
    """On straight lines between minutes. With a slope up to k K/s a held value is up to 5 k off, and each end of an excursion up
    to 5 s. A dwell along lines is exact but for the last reading, held for up to 5 s at a pace of at most 1 in the fastest time.
    """
    shape = line(*enumerate(heights))
    fine, coarse = (series(shape, 0, 6, period) for period in (1, 5))
    steepest = max(abs(b - a) for a, b in zip(heights, heights[1:], strict=False)) / 60
    dwell, peak, over = ON_PARTS[4], ON_PARTS[6], ON_PARTS[9]

    def both(requirement: Requirement) -> tuple[Finding, Finding]:
        return tuple(judge(requirement, evidence_on(requirement, one, at(span_min)), at(span_min)) for one in (fine, coarse))

    one, five = both(dwell)
    assert one.observed == pytest.approx(five.observed, abs=5 / min(PACE.times_s))
    one, five = both(peak)
    assert one.observed == pytest.approx(five.observed, abs=5 * steepest + 1e-9)
    one, five = both(over)
    assert one.observed == pytest.approx(five.observed, abs=5)
    one, five = (sum(stretch.length for stretch in found.excursions) / SECOND for found in both(climate(0)))
    crossings = sum((a - 30) * (b - 30) < 0 for a, b in zip(heights, heights[1:], strict=False))
    assert one == pytest.approx(five, abs=5 * (crossings + 1))


@pytest.mark.parametrize("requirement", [a_requirement("purge_volumes", NoTerms(), "volumes", low=4.0)])
@settings(max_examples=40, deadline=None)
@given(flow=st.lists(st.floats(0, 10, width=32), min_size=60, max_size=60), there=present)
def test_a_purge_is_never_missed_before_it_is_over(requirement: Requirement, flow, there) -> None:
    known = readings(flow, there)
    for now in range(START, START + DURATION, 30 * SECOND):
        evidence = Evidence(START, None, series={"air_flow": known.until(now)}, volume_m3=190.0)
        assert judge(requirement, evidence, now).verdict is not Verdict.MISSED


def test_no_verdict_without_evidence() -> None:
    """The three verdicts exist, and silence is none of met or missed."""
    for requirement in (climate(10), *ON_PARTS[:-1]):
        evidence = evidence_on(requirement, readings([], []), START + DURATION)
        assert judge(requirement, evidence, START + DURATION).verdict is Verdict.UNPROVEN, requirement.kind
    assert judge(climate(10), span(), at(60)).verdict is Verdict.UNPROVEN
