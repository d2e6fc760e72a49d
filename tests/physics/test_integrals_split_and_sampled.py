"""The integrals against closed forms, however the trace is sampled, cut in two or moved in time: to 0.1 % and better.

The two published cases are in tests/data/check_values.json: cure-F0-ramp (4.309 min, where a trapezoid at one-minute steps gives
4.328) and cure-TAT (14.0 min at or above 160 degC, where counting one-minute samples gives 15).
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.physics.lines import seconds_at_or_above
from booth.physics.pace import Pace, progress, time_of_progress
from booth.physics.ventilation import volumes_exchanged

SECOND, MINUTE = 1_000_000, 60_000_000
CASES = {one["id"]: one for one in json.loads((Path(__file__).parents[1] / "data/check_values.json").read_text("utf-8"))["cases"]}
OVEN = ((0, 20), (16, 180), (26, 180), (42, 20))
RAMP = ((0, 100.0), (21.1, 121.1))
LETHAL = [(float(t), 60 * 10 ** ((121.1 - t) / 10)) for t in np.linspace(100, 121.1, 423)]
"""F0 as a pace: 10^((T - 121.1)/10) a minute, tabulated every twentieth of a degree; between them ln(time) is linear in 1/T,
which over so little is the same to some millionths."""

periods = st.floats(0.5, 90)
days = st.integers(-(10**15), 2 * 10**15)


def sampled(corners: tuple, period_s: float, shift_us: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Readings in a rhythm, and one at each corner, so that the lines between them are the shape itself."""
    minutes, values = zip(*corners, strict=True)
    last = minutes[-1] * 60
    seconds = np.unique(np.concatenate((np.arange(0, last, period_s), np.array(minutes) * 60.0)))
    times = np.round(seconds * SECOND).astype(np.int64)
    keep = np.append(True, np.diff(times) > 0)
    return times[keep] + shift_us, np.interp(seconds, np.array(minutes) * 60.0, values)[keep]


@given(periods, days, st.floats(0, 1))
def test_the_published_ramp_in_any_rhythm_on_any_day_cut_anywhere(period: float, day: int, share: float) -> None:
    case = CASES["cure-F0-ramp"]
    times, values = sampled(RAMP, period, day)
    pace, cut = Pace.table(LETHAL), int(times[0] + share * (times[-1] - times[0]))
    whole = progress(times, values, pace, "minimum", 2 * MINUTE).done
    assert whole == pytest.approx(case["expected"], rel=1e-3)
    halves = [progress(times, values, pace, "minimum", 2 * MINUTE, **span).done for span in ({"end_us": cut}, {"start_us": cut})]
    assert sum(halves) == pytest.approx(whole, rel=1e-9)


@given(st.floats(0.5, 60), st.floats(20, 60), st.floats(10, 60))
def test_any_ramp_against_simpsons_rule(minutes: float, low: float, climb: float) -> None:
    """exp(-Q/T) along a line of T is an exponential integral: held against Simpson's rule with ten thousand strips."""
    pace = Pace.table([(10, 7200), (130, 60)])
    times, values = sampled(((0, low), (minutes, low + climb)), 5)
    grid = np.linspace(low, low + climb, 20_001)
    kelvin = grid + 273.15
    q = math.log(7200 / 60) / (1 / 283.15 - 1 / 403.15)
    rate = np.exp(-q * (1 / kelvin - 1 / 283.15)) / 7200
    weights = np.ones(20_001)
    weights[1:-1:2], weights[2:-1:2] = 4, 2
    simpson = float((weights * rate).sum()) * minutes * 60 / 20_000 / 3
    assert progress(times, values, pace, "minimum", 2 * MINUTE).done == pytest.approx(simpson, rel=1e-6)


@given(periods, days, st.floats(0, 1))
def test_the_published_profile_in_any_rhythm_on_any_day_cut_anywhere(period: float, day: int, share: float) -> None:
    case = CASES["cure-TAT"]
    times, values = sampled(OVEN, period, day)
    cut = int(times[0] + share * (times[-1] - times[0]))
    level = case["inputs"]["thr"]
    whole = seconds_at_or_above(times, values, level, 2 * MINUTE).seconds
    assert whole / 60 == pytest.approx(case["expected"], rel=1e-6)
    halves = [seconds_at_or_above(times, values, level, 2 * MINUTE, **s).seconds for s in ({"end_us": cut}, {"start_us": cut})]
    assert sum(halves) == pytest.approx(whole, abs=3e-6)


@given(st.floats(1, 30), st.floats(1, 30), st.floats(1, 40), periods, days, st.floats(0, 1))
def test_a_fan_that_speeds_up_by_the_area_under_its_line(
    low: float, high: float, minutes: float, period: float, day: int, share: float
) -> None:
    times, values = sampled(((0, low), (minutes, high)), period, day)
    cut = int(times[0] + share * (times[-1] - times[0]))
    whole = volumes_exchanged(times, values, 190.0, 2 * MINUTE).volumes
    assert whole == pytest.approx((low + high) / 2 * minutes * 60 / 190.0, rel=1e-6)
    halves = [volumes_exchanged(times, values, 190.0, 2 * MINUTE, **s).volumes for s in ({"end_us": cut}, {"start_us": cut})]
    assert sum(halves) == pytest.approx(whole, rel=1e-9)


@given(st.floats(20, 100), periods, st.floats(0.05, 0.95))
def test_the_moment_of_a_share_is_where_the_share_is(temperature: float, period: float, target: float) -> None:
    """At a steady temperature: the share of the time."""
    pace = Pace.table([(15, 1800), (20, 1200), (30, 600)])
    times, values = sampled(((0, temperature), (60, temperature)), period)
    moment = time_of_progress(times, values, pace, "minimum", 2 * MINUTE, target=target)
    assert moment == pytest.approx(target * SECOND / pace.pace_per_s(temperature, "minimum"), abs=2)
