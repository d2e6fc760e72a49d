"""Trends: the fit against a line and a worked example, and when a measure counts as heading out of its limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress

from booth.judge.evidence import Evidence
from booth.judge.series import Series
from booth.judge.trend import fit, heading
from booth.shop.requirement import ClimateLimit
from booth.times import MINUTE, SECOND

START = 1_700_000_000 * SECOND
LIMIT = ClimateLimit("air_temperature", 20.0, 30.0)


def times(count: int, every_s: float = 5.0) -> np.ndarray:
    return START + (np.arange(count) * every_s * SECOND).astype(np.int64)


def test_a_line_drawn_by_hand() -> None:
    """28 °C at the start and 0.1 K a minute: after 10 min 29 °C, and 30 °C ten minutes later."""
    moments = times(121)
    found = fit(moments, 28 + 0.1 * (moments - START) / MINUTE, START + 10 * MINUTE)
    assert found.value == pytest.approx(29.0)
    assert found.slope * 60 == pytest.approx(0.1)
    assert found.scatter == pytest.approx(0, abs=1e-9)
    assert found.seconds_to(20.0, 30.0) == pytest.approx(600)
    assert found.seconds_to(20.0, None) is None  # it rises


def test_slope_and_standard_error_are_those_of_scipy() -> None:
    chance = np.random.default_rng(5)
    moments = times(60)
    values = 22 + 0.0005 * np.arange(60) + chance.normal(0, 0.2, 60)
    ours, theirs = fit(moments, values, START), linregress((moments - START) / SECOND, values)
    assert ours.slope == pytest.approx(theirs.slope)
    assert ours.error == pytest.approx(theirs.stderr)
    assert ours.value == pytest.approx(theirs.intercept)


@pytest.mark.parametrize("count", [0, 1, 7])
def test_too_few_readings_have_no_trend(count: int) -> None:
    assert fit(times(count), np.full(count, 21.0), START) is None


def evidence(values: np.ndarray) -> Evidence:
    series = Series(times(len(values)), values, 15 * SECOND)
    return Evidence(START, None, series={"air_temperature": series})


def told(values: np.ndarray, at_min: float, horizon_min: float = 10):
    return heading(LIMIT, evidence(values), None, START + round(at_min * MINUTE), round(horizon_min * MINUTE))


def test_it_says_what_when_and_which_limit() -> None:
    falling = 24 - 0.25 * np.arange(240) / 12  # per minute
    found = told(falling, 10)
    assert (found.limit, found.slope * 60) == (20.0, pytest.approx(-0.25))
    assert found.seconds == pytest.approx(6 * 60, rel=0.01)  # 21.5 °C then: 1.5 K at 0.25 K/min
    assert told(falling, 10, horizon_min=5) is None


def test_nothing_is_said_of_a_young_step_of_noise_or_of_what_is_out_already() -> None:
    chance = np.random.default_rng(1)
    assert told(24 - 0.5 * np.arange(240) / 12, 4.9) is None
    assert told(24 - 0.5 * np.arange(240) / 12, 9) is None  # 19.5 °C: out, and an excursion's business
    assert all(told(20.3 + chance.normal(0, 0.1, 240), minute) is None for minute in range(5, 20))
    swinging = 20.4 + 0.3 * np.sin(np.arange(240) / 12)  # a controller's swing, a period of six minutes
    assert all(told(swinging, minute) is None for minute in range(7, 20))


@pytest.mark.parametrize("where", range(5, 115, 10))
def test_a_jump_is_no_trend(where: int) -> None:
    """Through a jump in the middle the best line rises 1.5 times the jump, with a scatter of a quarter of it: 6 times."""
    moments = times(120)
    trend = fit(moments, np.where(np.arange(120) < where, 23.5, 28.8), int(moments[-1]))
    assert not trend.clear
    if where == 55:
        assert abs(trend.slope) * trend.span_s / trend.scatter == pytest.approx(6, rel=0.05)


def test_nothing_is_said_while_the_newest_reading_is_too_old() -> None:
    falling = 24 - 0.25 * np.arange(112) / 12  # the last one at 9:15
    assert told(falling, 9.4) is not None
    assert told(falling, 10) is None
