"""Pace and progress: against scipy's quadrature, closed cases, and what must hold for any trace."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from booth.physics.pace import (
    Pace,
    arrhenius_factor,
    cumulative_progress,
    progress,
    seconds_at_or_above,
    time_of_progress,
)

SECOND, MINUTE = 1_000_000, 60_000_000
FLASH = Pace.table([(15, 1800), (20, 1200), (30, 600)])
BAKE = Pace.table([(50, 3600), (60, 1800), (80, 600)])

temperature_traces = st.lists(st.floats(0, 100), min_size=2, max_size=12)
sides = st.sampled_from(["minimum", "maximum"])


def every_minute(temperatures):
    return np.arange(len(temperatures)) * MINUTE


def by_quadrature(times_us, temperatures, pace, side):
    """scipy.integrate.quad over each line, told where the table's points are crossed."""
    total = 0.0
    for (t0, t1), (a, b) in zip(
        zip(times_us[:-1], times_us[1:], strict=True), zip(temperatures[:-1], temperatures[1:], strict=True), strict=True
    ):
        seconds = (t1 - t0) / 1e6
        kinks = [seconds * (p - a) / (b - a) for p in pace.temperatures_c if (a - p) * (b - p) < 0]

        def rate(t, a=a, b=b, seconds=seconds):
            return pace.pace_per_s(a + (b - a) * t / seconds, side)

        total += quad(rate, 0, seconds, points=kinks or None, epsabs=1e-13, epsrel=1e-10)[0]
    return total


def test_ln_time_is_linear_in_inverse_kelvin_between_the_points():
    kelvin = np.array(FLASH.temperatures_c) + 273.15
    for t in (15, 16.2, 20, 27.9, 30):
        expected = np.interp(-1 / (t + 273.15), -1 / kelvin, np.log(FLASH.times_s))
        for side in ("minimum", "maximum"):
            assert -math.log(FLASH.pace_per_s(t, side)) == pytest.approx(expected, abs=1e-12)


def test_outside_the_table_each_side_is_the_safe_one():
    assert FLASH.pace_per_s(14.999, "minimum") == 0
    assert FLASH.pace_per_s(15, "minimum") == pytest.approx(1 / 1800)
    assert FLASH.pace_per_s(45, "minimum") == pytest.approx(1 / 600)
    assert FLASH.pace_per_s(-10, "maximum") == pytest.approx(1 / 1800)
    activation_k = math.log(2) / (1 / 293.15 - 1 / 303.15)
    assert FLASH.pace_per_s(45, "maximum") == pytest.approx(arrhenius_factor(45, 30, activation_k) / 600)


@pytest.mark.parametrize("side", ["minimum", "maximum"])
@pytest.mark.parametrize(
    "temperatures",
    [[20, 25, 25, 90, 70, 55, 40], [10, 100], [80, 80, 50, 50, 49.9, 60], np.linspace(20, 95, 40)],
)
def test_progress_is_what_quadrature_says_with_readings_a_minute_apart(temperatures, side):
    times = every_minute(temperatures)
    done, missing = progress(times, temperatures, BAKE, side, MINUTE)
    assert done == pytest.approx(by_quadrature(times, temperatures, BAKE, side), rel=1e-6)
    assert missing == 0


def test_even_a_hundred_thousandfold_pace_along_one_line_is_integrated():
    steep = Pace.table([(20, 1e8), (180, 1e3)])
    done = progress([0, MINUTE], [20, 180], steep, "minimum", MINUTE).done
    assert done == pytest.approx(by_quadrature([0, MINUTE], [20, 180], steep, "minimum"), rel=1e-4)


def test_steady_temperature_takes_the_tabulated_time():
    times = np.arange(0, 3 * 3600 + 1, 60) * SECOND
    for temperature, seconds in zip(BAKE.temperatures_c, BAKE.times_s, strict=True):
        trace = np.full(times.size, temperature)
        assert time_of_progress(times, trace, BAKE, "minimum", MINUTE) == pytest.approx(seconds * 1e6, abs=2)


def test_time_of_progress_is_where_progress_is_one():
    temperatures = np.linspace(45, 85, 31)
    times = every_minute(temperatures) + 1_700_000_000_000_000
    when = time_of_progress(times, temperatures, BAKE, "minimum", MINUTE)
    assert progress(times, temperatures, BAKE, "minimum", MINUTE, end_us=when).done == pytest.approx(1, abs=1e-8)
    assert time_of_progress(times, temperatures, BAKE, "minimum", MINUTE, target=50) is None
    half = time_of_progress(times, temperatures, BAKE, "minimum", MINUTE, target=0.5)
    assert times[0] < half < when


def test_fixed_pace_counts_the_clock_and_nothing_else():
    fixed = Pace.fixed(600)
    assert progress([0, 300 * SECOND], None, fixed, "minimum", MINUTE) == (0.5, 0)
    assert progress([], None, fixed, "maximum", MINUTE, start_us=0, end_us=1200 * SECOND) == (2, 0)
    assert time_of_progress([5 * SECOND], None, fixed, "maximum", MINUTE) == 605 * SECOND
    assert cumulative_progress([0, 60 * SECOND], None, fixed, "minimum", MINUTE).tolist() == [0, 0.1]


def test_a_fixed_pace_counts_from_where_its_span_begins():
    fixed, noon = Pace.fixed(600), 43_200 * SECOND
    bounds = {"start_us": noon, "end_us": noon + 300 * SECOND}
    assert progress([noon, noon + MINUTE], None, fixed, "minimum", MINUTE, **bounds) == (0.5, 0)
    assert time_of_progress([], None, fixed, "minimum", MINUTE, target=0.5, **bounds) == noon + 300 * SECOND
    assert cumulative_progress([noon, noon + 60 * SECOND], None, fixed, "minimum", MINUTE).tolist() == [0, 0.1]


def test_gaps_earn_nothing_and_are_told():
    times = np.array([0, 1, 2, 10, 11]) * MINUTE
    whole = progress(times, [60] * 5, BAKE, "minimum", MINUTE)
    assert whole.done == pytest.approx(3 / 30)
    assert whole.missing_s == pytest.approx(8 * 60)
    assert progress(times, [60, 60, math.nan, 60, 60], BAKE, "minimum", MINUTE).missing_s == pytest.approx(9 * 60)
    assert progress([], [], BAKE, "minimum", MINUTE, start_us=0, end_us=MINUTE) == (0, 60)
    # Before the first and after the last reading of a span nothing is known either.
    wider = progress(times, [60] * 5, BAKE, "minimum", MINUTE, start_us=-MINUTE, end_us=13 * MINUTE)
    assert wider.missing_s == pytest.approx((8 + 1 + 2) * 60)


def test_cumulative_progress_ends_at_progress_and_is_level_across_a_gap():
    times, temperatures = np.array([0, 1, 2, 10, 11]) * MINUTE, [40, 95, 55, 60, 70]
    steps = cumulative_progress(times, temperatures, BAKE, "minimum", MINUTE)
    assert steps[0] == 0
    assert steps[2] == steps[3]
    assert steps[-1] == pytest.approx(progress(times, temperatures, BAKE, "minimum", MINUTE).done)
    assert cumulative_progress([], [], BAKE, "minimum", MINUTE).size == 0


@given(temperature_traces, sides, st.floats(0, 1))
def test_progress_is_additive_wherever_it_is_split(temperatures, side, share):
    times = every_minute(temperatures)
    cut = round(share * times[-1])
    whole = progress(times, temperatures, BAKE, side, MINUTE).done
    before = progress(times, temperatures, BAKE, side, MINUTE, end_us=cut).done
    after = progress(times, temperatures, BAKE, side, MINUTE, start_us=cut).done
    assert before + after == pytest.approx(whole, rel=1e-6, abs=1e-9)


@given(temperature_traces, sides, st.integers(-(10**15), 2 * 10**15))
def test_progress_does_not_depend_on_the_date(temperatures, side, shift):
    times = every_minute(temperatures)
    first = progress(times, temperatures, BAKE, side, MINUTE)
    assert progress(times + shift, temperatures, BAKE, side, MINUTE) == first
    when = time_of_progress(times, temperatures, BAKE, side, MINUTE, target=first.done / 2)
    assert time_of_progress(times + shift, temperatures, BAKE, side, MINUTE, target=first.done / 2) == when + shift


@given(temperature_traces, sides, st.floats(0, 20))
def test_warmer_is_never_slower(temperatures, side, warmer):
    times = every_minute(temperatures)
    cool = progress(times, temperatures, BAKE, side, MINUTE).done
    warm = progress(times, np.array(temperatures) + warmer, BAKE, side, MINUTE).done
    assert warm >= cool * (1 - 1e-6) - 1e-12


@given(temperature_traces)
def test_a_minimum_never_runs_ahead_of_a_maximum(temperatures):
    times = every_minute(temperatures)
    slow = progress(times, temperatures, BAKE, "minimum", MINUTE).done
    assert slow <= progress(times, temperatures, BAKE, "maximum", MINUTE).done + 1e-12


@given(temperature_traces, st.floats(1, 99))
def test_time_above_and_time_below_make_the_whole(temperatures, threshold):
    assume(threshold not in temperatures)
    times = every_minute(temperatures)
    above = seconds_at_or_above(times, temperatures, threshold, MINUTE).seconds
    below = seconds_at_or_above(times, -np.array(temperatures), -threshold, MINUTE).seconds
    assert above + below == pytest.approx(60 * (len(temperatures) - 1))


def test_time_at_the_threshold_counts_and_gaps_do_not():
    times = np.array([0, 1, 2, 9]) * MINUTE
    assert seconds_at_or_above(times, [160, 160, 150, 170], 160, MINUTE) == (60, 420)
    assert seconds_at_or_above(times, [160, 160, 150, 170], 160, MINUTE, start_us=MINUTE // 2, end_us=2 * MINUTE) == (30, 0)


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([(20, 600), (20, 500)], "must rise"),
        ([(20, 600), (30, 700)], "700 s at 30 °C is longer than 600 s at 20 °C"),
        ([(20, 0)], "above zero"),
        ([(-300, 600)], "absolute zero"),
    ],
)
def test_a_table_that_makes_no_sense_is_refused(points, says):
    with pytest.raises(ValueError, match=says):
        Pace.table(points)


def test_a_sheet_may_state_one_time_at_two_temperatures():
    assert Pace.table([(20, 600), (30, 600)]).pace_per_s(25, "minimum") == pytest.approx(1 / 600)


def test_a_maximum_cannot_stand_on_one_point():
    one = Pace.table([(60, 1800)])
    assert one.pace_per_s([59, 60, 70], "minimum").tolist() == [0, 1 / 1800, 1 / 1800]
    with pytest.raises(ValueError, match="two tabulated points"):
        one.pace_per_s(60, "maximum")


def test_readings_a_microsecond_apart_are_in_order():
    assert progress([0, 1, 2], [20, 20, 20], FLASH, "minimum", MINUTE).missing_s == 0


def test_readings_out_of_order_are_refused():
    with pytest.raises(ValueError, match="reading 2 is not later"):
        progress([0, 5, 5], [20, 20, 20], FLASH, "minimum", MINUTE)
    with pytest.raises(ValueError, match="2 times but 1 values"):
        progress([0, 5], [20], FLASH, "minimum", MINUTE)
