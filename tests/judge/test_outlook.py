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

from booth.judge.clockwork import Reckoning, reckon
from booth.judge.evidence import UNKNOWN
from booth.judge.outlook import SETTLES_S, Expected, Outlook, expected_end, falls_to, finish, outlook, the_first, the_last
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


@pytest.mark.parametrize("period_s", [45, 60, 240])
def test_a_point_that_speaks_seldom_is_foretold_by_its_last_eight_readings(period_s: float) -> None:
    """A pot in the mix room may be silent for five minutes; it warms by 0.1 K/min."""
    end = 8 * period_s / 60
    seldom = series(line((0, 20), (end, 20 + end / 10)), 0, end, period_s, max_age=5 * MINUTE)
    found = outlook(seldom, at(end), 0.8)
    assert (found.value, found.slope * 60) == (pytest.approx(20 + end / 10), pytest.approx(0.1))
    assert outlook(seldom.until(at(end - 1.5 * period_s / 60)), at(end), 0.8) is None  # seven are too few
    broken = without(series(20, 0, 60, period_s, max_age=5 * MINUTE), 2 * period_s / 60, 60 - 2 * period_s / 60)
    assert outlook(broken, at(60), 0.8) is None  # what was said before a long silence is of another time


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


SLOW = Pace.table([(10, 7200), (20, 3600), (40, 900)])
AT_12_S = 1 / SLOW.pace_per_s(12.0, "minimum")
COLD = Outlook(12.0, 0.0, 0.0)


def minutes_at_12(seconds: float, *, without_s: tuple[float, float] | None = None) -> Reckoning:
    """A clock that has run at 12 °C since minute 0."""
    readings = series(12.0, 0, seconds / 60)
    readings = readings if without_s is None else without(readings, *(one / 60 for one in without_s))
    spans = [[(at(0), at(seconds / 60))]]
    return reckon(SLOW, "minimum", readings, spans, spans)


@pytest.mark.parametrize("ahead", [COLD, None])
def test_what_is_unsure_of_a_clock_counts_at_the_pace_that_it_has(ahead: Outlook | None) -> None:
    """3 % of a clock that takes AT_12_S are 3 % of AT_12_S, before it is done and after; at 40 °C they would be an eighth."""
    u = 0.03
    for seconds in (AT_12_S + 10, AT_12_S + 100):
        found = expected_end(SLOW, "minimum", ahead, at(seconds / 60), minutes_at_12(seconds), u)
        assert (found.at - at(0)) / SECOND == pytest.approx(AT_12_S, abs=0.01)
        assert found.sooner_us / SECOND == pytest.approx(u * AT_12_S, rel=1e-6)
        slack = 0 if ahead is not None else u * (7200 - AT_12_S)  # where nobody knows the temperature, at the table's slowest
        assert u * AT_12_S - 0.01 <= found.later_us / SECOND <= u * AT_12_S + slack + 0.01


def test_what_is_sure_by_now_was_sure_by_now() -> None:
    """3 % at 12 °C take three minutes, but it was done a minute ago at 12 °C and has warmed up since."""
    done = Reckoning(1.04, 1.04, at(99), done_pace=1 / AT_12_S)
    assert expected_end(SLOW, "minimum", Outlook(30.0, 0.0, 0.0), at(100), done, 0.03).later_us == MINUTE


def test_done_for_sure_waits_for_a_part_that_cools_down_after_it_was_done() -> None:
    """Below the table a minimum earns nothing, so that it may never be sure."""
    seconds = AT_12_S + 10
    found = expected_end(SLOW, "minimum", Outlook(5.0, 0.0, 0.0), at(seconds / 60), minutes_at_12(seconds), 0.03)
    assert (found.later_us, found.sooner_us / SECOND) == (None, pytest.approx(0.03 * AT_12_S, rel=1e-6))


def test_what_may_be_done_already_may_come_now() -> None:
    """Ten minutes unseen of fifty: at the table's fastest they would have been enough."""
    clock = minutes_at_12(3000, without_s=(1000, 1600))
    assert clock.least < 0.4 and clock.most > 1
    found = expected_end(SLOW, "minimum", COLD, at(50), clock, 0.0)
    assert (found.at - at(0)) / SECOND == pytest.approx(AT_12_S + 605, abs=1)  # what nobody saw earns nothing
    assert found.at - found.sooner_us <= at(50)


def test_what_may_have_counted_counts_at_the_pace_ahead() -> None:
    """Of two minutes unseen each second may have earned 1/900, which takes AT_12_S/900 seconds to earn at 12 °C."""
    found = expected_end(SLOW, "minimum", Outlook(12.0, 0.0, 0.0), at(10), Reckoning(0.1, 0.1 + 120 / 900, None), 0.0)
    drift_only = expected_end(SLOW, "minimum", Outlook(12.0, 0.0, 0.0), at(10), Reckoning(0.1, 0.1, None), 0.0)
    assert (found.sooner_us - drift_only.sooner_us) / SECOND == pytest.approx(120 * AT_12_S / 900, abs=1)


POT = Pace.table([(20, 14_400), (30, 7200)])
AT_38_S = 1 / POT.pace_per_s(38.0, "maximum")


@pytest.mark.parametrize("seconds", [1200, 2000, 3600])
@pytest.mark.parametrize("hidden", [None, (1000, 1030)])
def test_a_gap_does_not_keep_a_maximum_from_being_foretold(seconds: float, hidden: tuple | None) -> None:
    """Above its table a pot ages faster than anywhere in it: at 38 °C it lasts AT_38_S, and 30 s unseen change little of that."""
    readings = series(38.0, 0, seconds / 60)
    readings = readings if hidden is None else without(readings, *(one / 60 for one in hidden))
    now, spans = at(seconds / 60), [[(at(0), at(seconds / 60))]]
    clock = reckon(POT, "maximum", readings, spans, spans)
    found = expected_end(POT, "maximum", outlook(readings, now, 0.0), now, clock, 0.0)
    assert (found.at - at(0)) / SECOND == pytest.approx(AT_38_S, abs=35)
    assert (found.at - found.sooner_us - at(0)) / SECOND <= AT_38_S


def test_a_maximum_of_which_nothing_can_be_foretold_is_told_at_the_fastest_pace_seen() -> None:
    """Silent since minute 20, at 38 °C: it may have gone on so."""
    spans = [[(at(0), at(30))]]
    clock = reckon(POT, "maximum", series(38.0, 0, 20), spans, spans)
    found = expected_end(POT, "maximum", None, at(30), clock, 0.0)
    assert (found.at - at(0)) / SECOND == pytest.approx(AT_38_S, abs=1)
    assert (found.sooner_us, found.later_us) == (None, None)
    cool = reckon(POT, "maximum", series(25.0, 0, 20), spans, spans)  # then the table's fastest
    left = 1 - 20 / 60 * 3600 / (1 / POT.pace_per_s(25.0, "maximum")) - 600 / 7200
    assert (expected_end(POT, "maximum", None, at(30), cool, 0.0).at - at(30)) / SECOND == pytest.approx(left * 7200, abs=10)


@pytest.mark.parametrize("side", ["minimum", "maximum"])
def test_what_is_over_in_time_has_no_moment_that_it_never_reached(side: str) -> None:
    assert expected_end(POT, side, None, at(20), Reckoning(0.9, 0.9, None), 0.1, over=True) is None
    reached = expected_end(POT, side, None, at(20), Reckoning(1.1, 1.1, at(15), done_pace=1 / 14_400), 0.01, over=True)
    assert reached == Expected(at(15), 144 * SECOND, 144 * SECOND)
    fixed = expected_end(Pace.fixed(2400), side, None, at(20), Reckoning(0.5, 0.5, None), 0.0, over=True)
    assert fixed.at == at(40)  # known beforehand, whenever the step ends


def test_an_instrument_whose_uncertainty_nobody_stated_leaves_the_moment_unsure() -> None:
    for ahead, clock in ((COLD, Reckoning(0.5, 0.5, None)), (None, minutes_at_12(AT_12_S + 10))):
        found = expected_end(SLOW, "minimum", ahead, at(100), clock, UNKNOWN)
        assert (found.sooner_us, found.later_us) == (None, None)


SURE, BROAD, NEVER, NOBODY = Expected(100, 2, 3), Expected(99, 40, 50), Expected(98, 16, None), Expected(97, None, None)


@pytest.mark.parametrize(
    ("ends", "first", "last"),
    [
        ([SURE], SURE, SURE),
        ([SURE, BROAD], Expected(99, 40, 4), Expected(100, 2, 49)),
        ([SURE, NEVER], Expected(98, 16, 5), Expected(100, 2, None)),
        ([NEVER, NEVER], NEVER, NEVER),
        ([SURE, NOBODY], Expected(97, None, None), Expected(103, None, None)),
        ([BROAD, NOBODY], Expected(59, None, None), Expected(149, None, None)),
    ],
)
def test_of_several_limits_each_may_be_the_one(ends: list[Expected], first: Expected, last: Expected) -> None:
    """The first of several moments lies between the least of their soonest and the least of their latest, the last likewise."""
    assert (the_first(ends), the_last(ends)) == (first, last)
    assert (the_first(ends[::-1]), the_last(ends[::-1])) == (first, last)


def test_a_table_of_days_is_foretold_while_the_temperature_settles() -> None:
    """A recoat maximum of 7 days at 5 °C, 90 % of it over at 18 °C, rising by 0.02 K/s: against quadrature."""
    days = Pace.table([(5, 7 * 86_400), (20, 3 * 86_400), (30, 86_400)])

    def left(seconds: float) -> float:
        return 0.1 - quad(lambda t: days.pace_per_s(newton(18, 30, t), "maximum"), 0, seconds, limit=500)[0]

    found = finish(days, "maximum", Outlook(18.0, 0.02, 0.0), at(0), 0.9, 0.0)
    assert (found.at - at(0)) / SECOND == pytest.approx(brentq(left, 1, 86_400), rel=2e-3)


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
