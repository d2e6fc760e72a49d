"""When a filter meets its change-out drop, against scipy and against what is known of made-up filters."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from booth.physics.loading import at_flow, change_out

DAYS = np.arange(20.0)
COVERED = 2 * stats.norm.cdf(2) - 1
STRAIGHT = {"walks": (0.0,), "bends": 0.0}
"""A filter that is known to load in a straight line: then it is ordinary least squares."""
K = stats.t.isf((1 - COVERED) / 2, DAYS.size - 2)


def test_a_perfect_line_meets_the_level_where_it_must():
    found = change_out(DAYS, 50 + 5 * DAYS, 200, **STRAIGHT)
    assert found.expected == pytest.approx(30)
    assert (found.earliest, found.latest) == pytest.approx((30, 30), abs=1e-6)


def test_slope_and_its_error_are_those_of_scipy():
    drops = 50 + 5 * DAYS + np.random.default_rng(7).normal(0, 6, DAYS.size)
    line, found = stats.linregress(DAYS, drops), change_out(DAYS, drops, 200, **STRAIGHT)
    assert found.slope == pytest.approx(line.slope)
    assert found.slope_uncertainty == pytest.approx(K * line.stderr, rel=1e-3)
    assert found.expected == pytest.approx((200 - line.intercept) / line.slope)


def test_the_interval_is_where_the_band_of_the_line_meets_the_level():
    drops = 50 + 5 * DAYS + np.random.default_rng(7).normal(0, 6, DAYS.size)
    line, found = stats.linregress(DAYS, drops), change_out(DAYS, drops, 200, **STRAIGHT)
    scatter = np.sqrt(((drops - line.intercept - line.slope * DAYS) ** 2).sum() / (DAYS.size - 2))
    for moment, side in ((found.earliest, 1), (found.latest, -1)):
        band = K * scatter * np.sqrt(1 / DAYS.size + (moment - DAYS.mean()) ** 2 / ((DAYS - DAYS.mean()) ** 2).sum())
        assert line.intercept + line.slope * moment + side * band == pytest.approx(200, rel=1e-3)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    """95.4 %, as 2 of a normal distribution. Of 600 filters whose rise is straight."""
    rng, held = np.random.default_rng(1), 0
    for _ in range(600):
        found = change_out(DAYS, 50 + 5 * DAYS + rng.normal(0, 6, DAYS.size), 200, **STRAIGHT)
        held += found.earliest <= 30 <= found.latest
    assert held / 600 == pytest.approx(COVERED, abs=0.03)


def test_dust_that_stays_is_no_noise() -> None:
    """A rise that differs from day to day, and stays: a random walk. A straight line through it is much surer than it may be."""
    rng, held, line_held, asked = np.random.default_rng(2), 0, 0, 0
    for _ in range(300):
        drops = 100 + np.cumsum(rng.gamma(4, 0.5, 200))  # 2 Pa a day, give or take 1
        came = float(np.flatnonzero(drops >= 180)[0])
        seen = int(rng.integers(10, 30))
        if came <= seen:
            continue
        shown = drops[:seen] + rng.normal(0, 0.3, seen)
        found, line = change_out(np.arange(seen), shown, 180, bends=0.0), stats.linregress(np.arange(seen), shown)
        if found.expected is None:
            continue
        asked += 1
        held += found.earliest <= came and (found.latest is None or came <= found.latest + 1)
        line_held += abs((180 - line.intercept) / line.slope - came) <= 2 * line.stderr * came / line.slope
    assert asked > 200
    assert held / asked == pytest.approx(COVERED, abs=0.05)
    assert line_held / asked < 0.7


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
