"""How much readings scatter, of made-up readings whose scatter is known: the variance of x0 - 2 x1 + x2 is six times theirs."""

from __future__ import annotations

import numpy as np
import pytest

from booth.physics.scatter import scatter

SECOND = 1_000_000
TIMES = np.arange(20_000) * 5 * SECOND
NOISE = np.random.default_rng(4).normal(0, 0.3, TIMES.size)


def test_the_scatter_of_white_noise_is_found_whatever_it_drifts_by():
    # From 20,000 readings the estimate is good to about 1 % (one standard error).
    assert scatter(TIMES, NOISE, 10 * SECOND) == pytest.approx(0.3, rel=0.03)
    assert scatter(TIMES, NOISE + 20 + TIMES / 1e9, 10 * SECOND) == pytest.approx(0.3, rel=0.03)


def test_a_straight_line_has_none():
    assert scatter(TIMES[:9], 20 + 0.5 * np.arange(9), 10 * SECOND) == pytest.approx(0, abs=1e-12)


def test_three_readings_are_enough_and_two_are_not():
    # x0 - 2 x1 + x2 = -6, squared 36, over 6.
    assert scatter([0, SECOND, 2 * SECOND], [1, 4, 1], SECOND) == pytest.approx(np.sqrt(6))
    assert scatter([0, SECOND], [1, 4], SECOND) == scatter([], [], SECOND) == 0.0


def test_three_that_are_not_evenly_spaced_say_nothing():
    """Within a tenth of the step they count as even: a sampler's own jitter."""
    values = [1, 4, 1]
    assert scatter([0, 10, 21], values, 100) > 0
    assert scatter([0, 11, 21], values, 100) > 0
    assert scatter([0, 10, 25], values, 100) == 0
    assert scatter([0, 15, 25], values, 100) == 0


def test_readings_further_apart_than_a_gap_say_nothing():
    assert scatter([0, 10, 20], [1, 4, 1], 10) > 0
    assert scatter([0, 10, 20], [1, 4, 1], 9) == 0


def test_a_triple_across_a_pause_is_left_out_of_the_mean():
    """Two straight pieces with a jump in the pause between them."""
    times = [0, 10, 20, 500, 510, 520]
    assert scatter(times, [1, 2, 3, 50, 51, 52], 100) == 0
