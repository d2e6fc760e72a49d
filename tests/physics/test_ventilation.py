"""Volumes of air. Published cases are in test_physics_published.py."""

from __future__ import annotations

import math

import numpy as np
import pytest

from booth.physics.ventilation import air_changes, decay_fraction, volumes_exchanged

SECOND = 1_000_000


def test_steady_flow_exchanges_what_the_definition_says():
    # 5 m³/s through 75 m³ for 78 s are 5.2 volumes.
    times = np.arange(0, 79) * SECOND
    assert volumes_exchanged(times, np.full(79, 5.0), 75, SECOND) == pytest.approx((5.2, 0))
    assert air_changes(5.0, 75) == pytest.approx(240)


def test_a_ramp_is_a_trapezoid_also_when_cut():
    times, flow = [0, 60 * SECOND], [0, 6]
    assert volumes_exchanged(times, flow, 90, 60 * SECOND).volumes == pytest.approx(2)
    half = volumes_exchanged(times, flow, 90, 60 * SECOND, end_us=30 * SECOND)
    assert half == pytest.approx((0.5, 0))


def test_gaps_and_nan_exchange_nothing_and_are_told():
    times = np.array([0, 1, 2, 60, 61]) * SECOND
    assert volumes_exchanged(times, [9] * 5, 9, SECOND) == pytest.approx((3, 58))
    assert volumes_exchanged(times, [9, math.nan, 9, 9, 9], 9, SECOND) == pytest.approx((1, 60))
    assert volumes_exchanged([], [], 9, SECOND, start_us=0, end_us=180 * SECOND) == (0, 180)


def test_reversed_flow_counts_against():
    assert volumes_exchanged([0, SECOND, 2 * SECOND], [3, 0, -3], 3, SECOND).volumes == pytest.approx(0)


def test_mixing_slows_the_decay_and_never_speeds_it():
    assert decay_fraction(4, 1) == pytest.approx(0.0183, abs=0.0001)
    assert decay_fraction(4, 3) == pytest.approx(math.exp(-4 / 3))
    assert math.isnan(decay_fraction(4, 0.5))
    assert decay_fraction([0, 1], 1).tolist() == pytest.approx([1, math.exp(-1)])


def test_a_booth_without_volume_is_refused():
    with pytest.raises(ValueError, match="above zero, not 0"):
        volumes_exchanged([0, SECOND], [1, 1], 0, SECOND)
