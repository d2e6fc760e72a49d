"""When a filter meets its change-out drop, against scipy and against what is known of made-up filters."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from booth.physics.loading import at_flow, change_out

DAYS = np.arange(20.0)


def test_a_perfect_line_meets_the_level_where_it_must():
    found = change_out(DAYS, 50 + 5 * DAYS, 200)
    assert found.expected == pytest.approx(30)
    assert (found.earliest, found.latest) == pytest.approx((30, 30), abs=1e-6)


def test_slope_and_its_error_are_those_of_scipy():
    drops = 50 + 5 * DAYS + np.random.default_rng(7).normal(0, 6, DAYS.size)
    line, found = stats.linregress(DAYS, drops), change_out(DAYS, drops, 200)
    assert found.slope == pytest.approx(line.slope)
    assert found.slope_uncertainty == pytest.approx(2 * line.stderr)
    assert found.expected == pytest.approx((200 - line.intercept) / line.slope)


def test_the_interval_is_where_the_band_of_the_line_meets_the_level():
    drops = 50 + 5 * DAYS + np.random.default_rng(7).normal(0, 6, DAYS.size)
    line, found = stats.linregress(DAYS, drops), change_out(DAYS, drops, 200)
    scatter = np.sqrt(((drops - line.intercept - line.slope * DAYS) ** 2).sum() / (DAYS.size - 2))
    for moment, side in ((found.earliest, 1), (found.latest, -1)):
        band = 2 * scatter * np.sqrt(1 / DAYS.size + (moment - DAYS.mean()) ** 2 / ((DAYS - DAYS.mean()) ** 2).sum())
        assert line.intercept + line.slope * moment + side * band == pytest.approx(200)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    """k = 2 with 18 degrees of freedom covers 93.9 % (Student). Of 600 fixed filters."""
    rng, held = np.random.default_rng(1), 0
    for _ in range(600):
        found = change_out(DAYS, 50 + 5 * DAYS + rng.normal(0, 6, DAYS.size), 200)
        held += found.earliest <= 30 <= found.latest
    covered = 1 - 2 * stats.t.sf(2, DAYS.size - 2)
    assert held / 600 == pytest.approx(covered, abs=0.03)


def test_a_filter_that_doesnt_load_has_no_date():
    flat = change_out(DAYS, 100 + np.random.default_rng(3).normal(0, 5, DAYS.size), 200)
    assert (flat.expected, flat.earliest, flat.latest) == (None, None, None)
    assert change_out(DAYS, 150 - 2 * DAYS, 200).expected is None


def test_too_little_says_nothing():
    assert change_out([1, 2, 3], [10, 20, 30], 100) is None
    assert change_out([1, 1, 1, 1], [10, 20, 30, 40], 100) is None
    assert change_out(DAYS, np.full(DAYS.size, np.nan), 200) is None


def test_a_drop_is_told_at_one_flow():
    assert at_flow(100, 10, 12, 2) == pytest.approx(144)
    assert at_flow(100, 10, 12, 1) == pytest.approx(120)
    assert np.isnan(at_flow(100, 0, 12, 1))
