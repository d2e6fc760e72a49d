"""When a clock will be done, and between which moments: against Newton's law of cooling and quadrature."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from booth.judge.clockwork import Reckoning
from booth.judge.outlook import SETTLES_S, Outlook, expected_end, falls_to, finish, outlook
from booth.judge.trend import BENDS, Trend
from booth.physics.pace import Pace
from booth.times import MINUTE, SECOND
from tests.judge.made_up import at, line, series, without

DWELL = Pace.table([(60, 1800), (70, 1200)])


def newton(start: float, end: float, seconds: float) -> float:
    """A lump that goes from one temperature to that of its surroundings (any textbook of heat transfer)."""
    return end + (start - end) * math.exp(-seconds / SETTLES_S)


def test_a_lump_is_foretold_as_newton_has_it() -> None:
    slope = (75 - 62) / SETTLES_S
    ahead = Outlook(62.0, slope, 0.1)
    for seconds in (0, 60, 600, 3600):
        assert ahead.ahead(seconds) == pytest.approx(newton(62, 75, seconds))
    assert ahead.ahead(0, 2) == pytest.approx(62.2)


def test_the_slope_is_that_of_the_last_minutes() -> None:
    found = outlook(series(line((0, 40), (20, 60), (30, 65)), 0, 30), at(30), 1.0)
    assert (found.value, found.slope * 60) == (pytest.approx(65, abs=0.01), pytest.approx(0.5))
    assert found.error == pytest.approx(0.5, abs=0.01)  # half of an expanded uncertainty of 1 K


@pytest.mark.parametrize("readings", [None, series(65, 0, 0), series(65, 0, 0.5), without(series(65, 0, 30), 29, 30)])
def test_nothing_is_foretold_of_what_is_silent_or_too_young(readings) -> None:
    assert outlook(readings, at(30), 1.0) is None


def test_a_clock_at_rest_runs_on_at_its_own_pace() -> None:
    """At 70 °C 20 min, so that the half that is left takes ten."""
    found = finish(DWELL, "minimum", Outlook(70.0, 0.0, 0.0), at(0), 0.5, 0.0)
    assert found.at == pytest.approx(at(10), abs=SECOND)


def test_a_clock_of_a_part_that_warms_up_against_quadrature() -> None:
    start, end = 61.0, 74.0
    ahead = Outlook(start, (end - start) / SETTLES_S, 0.0)

    def left(seconds: float) -> float:
        return 0.8 - quad(lambda t: DWELL.pace_per_s(newton(start, end, t), "minimum"), 0, seconds, limit=200)[0]

    found = finish(DWELL, "minimum", ahead, at(0), 0.2, 0.0)
    assert (found.at - at(0)) / SECOND == pytest.approx(brentq(left, 1, 3600), rel=1e-3)


def test_a_part_that_stays_too_cold_is_never_done() -> None:
    assert finish(DWELL, "minimum", Outlook(50.0, 0.0, 0.0), at(0), 0.2, 0.0) is None
    found = expected_end(DWELL, "minimum", Outlook(50.0, 0.0, 0.0), at(0), Reckoning(0.2, 0.2, None), 0.01)
    assert (found.sooner_us, found.later_us) == (None, None)  # and nobody says how sure that is


@given(st.floats(0.05, 0.95), st.floats(60.5, 80), st.floats(-0.005, 0.01), st.floats(0, 0.05))
def test_what_is_less_sure_lies_further_apart(done: float, value: float, slope: float, uncertainty: float) -> None:
    found = [finish(DWELL, "minimum", Outlook(value, slope, error), at(0), done, uncertainty) for error in (0.0, 0.3, 1.0)]
    if found[0] is None:
        return
    assert len({one.at for one in found}) == 1
    for surer, other in pairwise(found):
        assert 0 <= surer.sooner_us <= other.sooner_us
        assert other.later_us is None or (surer.later_us is not None and 0 <= surer.later_us <= other.later_us)


def test_what_may_have_counted_lets_the_end_come_sooner() -> None:
    fixed = Pace.fixed(900)
    found = expected_end(fixed, "minimum", None, at(10), Reckoning(0.2, 0.6, None), 10 / 900)
    assert found.at == at(10 + 12)
    assert (found.sooner_us, found.later_us) == (6 * MINUTE + 10 * SECOND, 10 * SECOND)


def test_cooling_down_to_a_limit_against_the_closed_form() -> None:
    """From 75 °C in air of 24 °C down to 40 °C: τ ln(51/16)."""
    slope = -(75 - 24) / SETTLES_S
    found = falls_to(40.0, Outlook(75.0, slope, 0.1), at(0))
    assert (found.at - at(0)) / SECOND == pytest.approx(SETTLES_S * math.log(51 / 16), rel=1e-3)
    assert found.later_us is None  # so far ahead nobody knows whether it gets that cold at all
    nearer = falls_to(40.0, Outlook(50.0, -(50 - 24) / SETTLES_S, 0.1), at(0))
    assert nearer.later_us > nearer.sooner_us > 0  # the curve gets flatter
    assert falls_to(20.0, Outlook(75.0, slope, 0.1), at(0)) is None
    assert falls_to(40.0, Outlook(39.0, slope, 0.1), at(0)).at == at(0)


def test_a_line_meets_its_limit_where_its_band_does() -> None:
    """Against a search along the band of two standard errors."""
    trend = Trend(at=0, value=5.0, slope=-0.004, error=0.0003, scatter=0.05, span_s=600, count=120)

    def lower_edge(seconds: float) -> float:
        level, bends = 0.2**2 + 4 * 0.05**2 / 120, 0.0003**2 + (BENDS * 0.004) ** 2
        return 5.0 - 0.004 * seconds - 2 * math.sqrt(level + bends * seconds**2) - 3.0

    assert trend.soonest(3.0, 0.4) == pytest.approx(brentq(lower_edge, 0, 500), rel=1e-6)
    assert trend.soonest(4.9, 0.4) == 0.0  # within its uncertainty of the limit already


def test_the_sum_of_many_made_up_bakes_ends_where_it_was_foretold() -> None:
    """Newton with other lags than ours, noise and a thermometer that is off: about 95 of 100 within what was stated."""
    chance = np.random.default_rng(4)
    inside = []
    for _ in range(200):
        lag, end = chance.uniform(400, 800), chance.uniform(66, 78)
        off, uncertainty = chance.normal(0, 0.25), 0.5

        def true(seconds: np.ndarray, lag: float = lag, end: float = end) -> np.ndarray:
            return end + (62 - end) * np.exp(-seconds / lag)

        moment = float(chance.uniform(360, 900))
        seconds = np.arange(0, 7200, 5.0)
        sums = np.cumsum(DWELL.pace_per_s(true(seconds), "minimum")) * 5.0
        shown = series(lambda minutes, f=true, o=off: f(minutes * 60) + o + chance.normal(0, 0.05, len(minutes)), 0, moment / 60)
        done = float(np.interp(moment, seconds, sums))
        if done >= 1 or sums[-1] < 1:
            continue
        ahead = outlook(shown, at(moment / 60), uncertainty)
        found = finish(DWELL, "minimum", ahead, at(moment / 60), done, done * 0.02)
        came = at(0) + round(float(np.interp(1.0, sums, seconds)) * SECOND)
        later = math.inf if found.later_us is None else found.later_us
        inside.append(-found.sooner_us <= came - found.at <= later)
    assert len(inside) > 150
    assert np.mean(inside) >= 0.9
