"""Uncertainty through the sum: what a finding states, against chance itself and against a general library.

Monte Carlo after JCGM 101 (propagation of distributions): each trial has another instrument, whose error is the same for all its
readings, and another noise for each reading. `uncertainties` propagates through numerical derivatives (GUM 5.1.2).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from uncertainties import ufloat, wrap

from booth.judge.evidence import UNKNOWN, Evidence
from booth.judge.facts import Mix
from booth.judge.finding import Finding
from booth.judge.judge import judge
from booth.judge.judging import conformity
from booth.judge.measured import measure
from booth.judge.series import Series
from booth.judge.weigh import sustained
from booth.physics.moist_air import dew_point_c
from booth.physics.pace import Pace
from booth.physics.scatter import scatter
from booth.shop.requirement import (
    ClimateLimit,
    ClimateTerms,
    DwellTerms,
    FlashTerms,
    HeatUpTerms,
    NoTerms,
    OverBakeTerms,
    PotTerms,
    RateTerms,
    Requirement,
    StartTerms,
)
from booth.times import MINUTE, SECOND
from tests.judge.made_up import a_pass, a_requirement, at, line, part, series, span

TRIALS = 400
U = 1.0  # expanded, k = 2, of the thermometer in these tests
NOISE = 0.05
LATER = at(1000)
SEALER = Pace.table([(15, 1800), (20, 1200), (30, 720)])
POT = Pace.table([(20, 5400), (30, 2700)])
CLEAR = Pace.table([(60, 1800), (70, 1200)])
OVEN = line((0, 24), (30, 65), (60, 68))  # inside the table: beyond it the sum is cut off on one side


def erring(shape: Callable, error: float, chance: np.random.Generator, end: float = 60) -> Series:
    """What a thermometer shows that is off by `error` and noisy."""
    true = series(shape, 0, end)
    return Series(true.times, true.values + error + chance.normal(0, NOISE, len(true)), true.max_age_us)


def trials(requirement: Requirement, evidence: Callable[[Series], Evidence], shape: Callable) -> tuple[np.ndarray, Finding]:
    """What many thermometers would have had us observe, and the finding of one without error."""
    chance = np.random.default_rng(20260713)
    errors = chance.normal(0, U / 2, TRIALS)
    seen = [judge(requirement, evidence(erring(shape, error, chance)), LATER).observed for error in errors]
    return np.array(seen), judge(requirement, evidence(series(shape, 0, 60)), LATER)


def flash(readings: Series) -> Evidence:
    return span(
        10, 30, before=(a_pass(0, 10),), following=at(30), parts=(part(readings),), uncertainty={"part_temperature": U}
    )  # fmt: skip


def pot(readings: Series) -> Evidence:
    mix = Mix("M-1", "clear", at(0), None, None, "pot-1")
    known = {"series": {"pot_temperature": readings}, "uncertainty": {"pot_temperature": U}}
    return span(20, 50, mix=mix, mix_named="M-1", **known)


def baked(readings: Series) -> Evidence:
    return span(0, 60, parts=(part(readings),), uncertainty={"part_temperature": U})


FLASH = a_requirement("flash_minimum", FlashTerms(SEALER, "part", (), "go_on"), "number", low=1.0)
LIFE = a_requirement("pot_life", PotTerms(POT, "pot"), "number", high=1.0)
DWELL = a_requirement("dwell", DwellTerms(CLEAR, "part", "pause", 60.0), "number", low=1.0)
OVER = a_requirement("over_bake", OverBakeTerms(60.0, 120 * MINUTE), "duration", high=7200.0)
HEAT = a_requirement("heat_up", HeatUpTerms(60.0, 35 * MINUTE), "duration", high=2100.0)


@pytest.mark.parametrize(
    ("requirement", "evidence", "shape"),
    [
        (FLASH, flash, line((0, 19), (60, 26))),
        (LIFE, pot, line((0, 21), (60, 25))),
        (DWELL, baked, OVEN),
        (OVER, baked, OVEN),
        (HEAT, baked, OVEN),
    ],
    ids=lambda one: getattr(one, "kind", ""),
)
def test_the_stated_uncertainty_is_that_of_many_instruments(requirement: Requirement, evidence, shape) -> None:
    """In the unit of what is observed. Readings every 5 s make a moment coarse, hence the second term."""
    seen, finding = trials(requirement, evidence, shape)
    spread = 2 * float(np.std(seen))
    coarse = 5.0 if requirement.kind == "heat_up" else 0.0
    assert finding.uncertainty == pytest.approx(spread, rel=0.1, abs=coarse)
    within = np.abs(seen - finding.observed) <= finding.uncertainty + coarse
    assert 0.93 <= within.mean() <= (1.0 if coarse else 0.99)  # k = 2: 95.45 % of a normal distribution


def test_noise_averages_out_of_a_sum_and_a_common_error_does_not() -> None:
    """GUM 5.2.2: fully correlated readings add their errors, independent ones the squares of theirs."""
    chance, shape = np.random.default_rng(1), line((0, 19), (60, 26))
    noisy = [judge(FLASH, flash(erring(shape, 0.0, chance)), LATER).observed for _ in range(TRIALS)]
    seen, finding = trials(FLASH, flash, shape)
    assert float(np.std(noisy)) < 0.02 * float(np.std(seen))
    shifted = judge(FLASH, flash(series(shape, 0, 60).shifted(U)), LATER).observed
    assert shifted - finding.observed == pytest.approx(finding.uncertainty, rel=0.05)


def test_dew_point_margin_against_a_general_library() -> None:
    """Temperature, humidity and surface are three instruments; the library differentiates the dew point by itself."""
    known = {"air_temperature": 0.4, "relative_humidity": 2.0, "part_temperature": 1.0}
    limit = ClimateLimit("dew_point_margin", 3.0, None)
    dew_point = wrap(lambda air, humidity: float(dew_point_c(air, humidity)))
    for air, humidity in ((23.0, 50.0), (29.0, 80.0), (15.0, 30.0)):
        evidence = span(
            parts=(part(26.0),),
            series={"air_temperature": series(air, 0, 20), "relative_humidity": series(humidity, 0, 20)},
            uncertainty=known,
        )
        measured = measure(limit, evidence, at(0), at(20))
        theirs = ufloat(26.0, 0.5) - dew_point(ufloat(air, 0.2), ufloat(humidity, 1.0))
        assert measured.low[0] == pytest.approx(theirs.nominal_value, abs=1e-9)
        assert measured.uncertainty_at(measured.edges[:1])[0] == pytest.approx(2 * theirs.std_dev, rel=2e-3)


def test_dew_point_margin_against_chance() -> None:
    """The known example of two per cent of humidity: 0.6 K of dew point at 25 °C and 50 % (k = 1 of the same ratio)."""
    chance = np.random.default_rng(5)
    air, humidity = chance.normal(25, 0.2, 100_000), chance.normal(50, 1.0, 100_000)
    margin = chance.normal(20, 0.5, 100_000) - dew_point_c(air, humidity)
    evidence = span(
        parts=(part(20.0),),
        series={"air_temperature": series(25.0, 0, 20), "relative_humidity": series(50.0, 0, 20)},
        uncertainty={"air_temperature": 0.4, "relative_humidity": 2.0, "part_temperature": 1.0},
    )
    measured = measure(ClimateLimit("dew_point_margin", 3.0, None), evidence, at(0), at(20))
    assert measured.uncertainty_at(measured.edges[:1])[0] == pytest.approx(2 * float(np.std(margin)), rel=0.01)


def test_volumes_against_a_general_library() -> None:
    """A flow meter's error lasts the whole purge, and its ends are only known to within a mode message each."""
    seconds, flow = 120.0, 20.0
    evidence = span(
        0, 2, series={"air_flow": series(flow, 0, 3)}, volume_m3=190.0, span_source="signalled",
        uncertainty={"air_flow": 1.0}, moments={"signalled": 10 * SECOND},
    )  # fmt: skip
    found = judge(a_requirement("purge_volumes", NoTerms(), "volumes", low=4.0), evidence, LATER)
    start, end = ufloat(0, 5.0), ufloat(seconds, 5.0)
    theirs = ufloat(flow, 0.5) * (end - start) / 190
    assert (found.observed, found.uncertainty) == pytest.approx((theirs.nominal_value, 2 * theirs.std_dev), rel=1e-6)


def test_scatter_is_that_of_the_noise_whatever_the_drift() -> None:
    chance = np.random.default_rng(2)
    times = np.arange(1000, dtype=np.int64) * 5 * SECOND
    for slope in (0.0, 0.02):  # K/s: a part that warms up
        values = slope * times / 1e6 + chance.normal(0, 0.04, len(times))
        assert scatter(times, values, 15 * SECOND) == pytest.approx(0.04, rel=0.1)
    assert scatter(times[:2], values[:2], 15 * SECOND) == 0.0
    jump = np.where(times < times[500], 20.0, 60.0)
    torn = np.where(times < times[500], times, times + 600 * SECOND)
    assert scatter(torn, jump, 15 * SECOND) == 0.0  # across a gap nothing is told


def test_noise_makes_the_fastest_of_many_rates_look_faster_by_no_more_than_is_stated() -> None:
    requirement = a_requirement("heating_rate", RateTerms(3 * MINUTE), "heating_rate", high=5.0)
    chance, climb = np.random.default_rng(3), line((0, 20), (60, 260))
    found = [judge(requirement, baked(erring(climb, 0.7, chance)), LATER) for _ in range(60)]
    over = np.array([one.observed - 4.0 for one in found])
    assert (over > 0).all()  # always faster than the truth
    assert (over <= [one.uncertainty for one in found]).mean() >= 0.95
    assert max(one.uncertainty for one in found) < 0.2  # and a common error of 0.7 K isn't in it


START = a_requirement("bake_start", StartTerms(10 * MINUTE, 30 * MINUTE), "duration", low=600.0, high=1800.0, guarded=True)


@pytest.mark.parametrize(
    ("minute", "verdict"),
    [
        (39.6, "met"),
        (39.7, "unproven"),
        (40.3, "unproven"),
        (40.4, "missed"),
        (20.3, "unproven"),
        (20.4, "met"),
        (19.6, "missed"),
    ],
)
def test_a_guarded_time_counts_the_buttons(minute: float, verdict: str) -> None:
    """15 s for the button, 15 s for the mode message: 21.2 s of the difference, which is 0.354 min."""
    moments = {"entered": 15 * SECOND, "signalled": 15 * SECOND}
    evidence = span(minute, 90, before=(a_pass(0, 10),), span_source="signalled", moments=moments)
    found = judge(START, evidence, LATER)
    assert found.verdict == verdict
    assert found.uncertainty == pytest.approx(math.hypot(15, 15))
    certain = found.probability >= 0.9772 or found.probability <= 0.0228
    assert certain == (verdict != "unproven")
    assert judge(replace(START, guarded=False), evidence, LATER).verdict == ("missed" if minute > 40 or minute < 20 else "met")


def test_probability_of_conformity() -> None:
    """JCGM 106, 7.4: Phi(z). At the limit one half; a guard band as wide as U leaves 2.3 % (table value Phi(2) = 0.97725)."""
    assert conformity(0.0, 1.0, 3.0, None) == pytest.approx(0.5)
    assert conformity(1.0, 1.0, 3.0, None) == pytest.approx(0.97725, abs=1e-5)
    assert conformity(-1.0, 1.0, None, 3.0) == pytest.approx(0.02275, abs=1e-5)
    narrow = ufloat(0.5, 0.5)  # in the middle of limits that are 2 u apart
    assert conformity(narrow.nominal_value, 1.0, 0.0, 1.0) == pytest.approx(0.6827, abs=1e-4)


def test_what_decides_is_what_lasted_longer_than_the_grace() -> None:
    edges = np.array([0, 10, 20, 30, 40], np.int64)
    excess = np.array([-1.0, 2.0, 0.5, -2.0])
    assert sustained(edges, excess, 0) == 2.0
    assert sustained(edges, excess, 10) == 0.5
    assert sustained(edges, excess, 20) == -1.0
    assert sustained(edges, np.full(4, -np.inf), 10) == -np.inf
    brief = line((0, 24), (9.9, 24), (10, 19), (10.5, 19), (10.6, 24), (60, 24))
    terms = ClimateTerms(ClimateLimit("air_temperature", 20.0, None), None, 60 * SECOND, None, None)
    requirement = a_requirement("air_temperature", terms, "temperature", low=20.0)
    evidence = span(0, 20, series={"air_temperature": series(brief, 0, 20)}, uncertainty={"air_temperature": 0.4})
    found = judge(requirement, evidence, LATER)
    assert (found.verdict, found.observed) == ("met", 19.0)
    assert found.probability > 0.999  # the half minute below is within the grace


SHORT = a_requirement("over_bake", OverBakeTerms(60.0, 50 * MINUTE), "duration", high=3000.0)


@pytest.mark.parametrize(
    ("requirement", "evidence"), [(FLASH, flash), (LIFE, pot), (DWELL, baked), (SHORT, baked), (HEAT, baked)]
)
def test_an_unknown_uncertainty_is_none_and_proves_nothing(requirement: Requirement, evidence) -> None:
    unknown = evidence(series(OVEN, 0, 60) if evidence is baked else series(24.0, 0, 60))
    unknown = replace(unknown, uncertainty=dict.fromkeys(unknown.uncertainty, UNKNOWN))
    found = judge(replace(requirement, guarded=True), unknown, LATER)
    assert (found.verdict, found.uncertainty, found.probability) == ("unproven", None, None)


def test_a_part_that_comes_within_the_uncertainty_of_the_latest_moment_is_not_missed_meanwhile() -> None:
    """A miss never mends, so it isn't told before it is one."""
    moments = {"signalled": 15 * SECOND}
    climb = line((0, 20), (35.2, 60), (60, 60))  # 12 s after the latest moment
    guarded, seen = replace(HEAT, guarded=True), []
    for minute in (34.9, 35.1, 35.2, 35.3, 36, 60):
        evidence = span(0, 60, parts=(part(series(climb, 0, minute)),), span_source="signalled", moments=moments)
        seen.append(judge(guarded, evidence, at(minute)).verdict)
    assert "missed" not in seen
    assert seen[-1] == "unproven"
