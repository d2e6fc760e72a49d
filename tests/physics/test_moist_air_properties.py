"""What must hold of moist air for any reading, and what happens outside the range."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.physics import moist_air
from booth.physics.elementwise import CHUNK

temperatures = st.floats(-40, 150)
humidities = st.floats(1, 100)
pressures = st.floats(70_000, 105_000)


@given(temperatures, humidities)
def test_dew_point_is_never_above_the_air(t_c, rh):
    assert moist_air.dew_point_c(t_c, rh) <= t_c


@given(temperatures, humidities, humidities)
def test_dew_point_rises_and_margin_falls_with_humidity(t_c, one, other):
    drier, damper = sorted((one, other))
    assert moist_air.dew_point_c(t_c, drier) <= moist_air.dew_point_c(t_c, damper)
    assert moist_air.dew_point_margin_k(20, t_c, drier) >= moist_air.dew_point_margin_k(20, t_c, damper)
    if damper - drier > 0.01:
        assert moist_air.dew_point_c(t_c, drier) < moist_air.dew_point_c(t_c, damper)


@given(temperatures, humidities)
def test_vapour_pressure_is_saturated_at_the_dew_point(t_c, rh):
    dew_point = moist_air.dew_point_c(t_c, rh)
    saturated = moist_air.saturation_pressure_pa(dew_point)
    assert saturated == pytest.approx(moist_air.vapour_pressure_pa(t_c, rh), rel=1e-5)


@given(temperatures, humidities)
def test_frost_point_lies_between_dew_point_and_zero(t_c, rh):
    dew_point, frost_point = moist_air.dew_point_c(t_c, rh), moist_air.frost_point_c(t_c, rh)
    if dew_point >= 0:
        assert frost_point is None
    else:
        assert dew_point - 1e-5 <= frost_point <= 0.01


@given(temperatures, humidities, pressures)
def test_wet_bulb_lies_between_dew_point_and_air(t_c, rh, pressure):
    bulb = moist_air.wet_bulb_c(t_c, rh, pressure)
    if math.isnan(bulb):  # more vapour than the pressure allows
        assert moist_air.vapour_pressure_pa(t_c, rh) >= pressure
    else:
        assert moist_air.dew_point_c(t_c, rh) - 0.02 <= bulb <= t_c + 1e-6


@given(st.floats(-39, 149), st.floats(2, 99))
def test_sensitivities_are_the_slopes(t_c, rh):
    per_k, per_percent = moist_air.dew_point_sensitivity(t_c, rh)
    h = 0.01
    warmer, colder = moist_air.dew_point_c(t_c + h, rh), moist_air.dew_point_c(t_c - h, rh)
    damper, drier = moist_air.dew_point_c(t_c, rh + h), moist_air.dew_point_c(t_c, rh - h)
    assert per_k == pytest.approx((warmer - colder) / (2 * h), abs=0.001)
    assert per_percent == pytest.approx((damper - drier) / (2 * h), rel=0.005)


def test_two_per_cent_of_humidity_are_six_tenths_of_a_kelvin():
    # The design's figure, at 25 °C and 50 %.
    assert 2 * moist_air.dew_point_sensitivity(25, 50)[1] == pytest.approx(0.6, abs=0.05)


@pytest.mark.parametrize(("t_c", "rh"), [(-40.1, 50), (150.1, 5), (20, 0), (20, -1), (20, 105.1), (math.nan, 50), (20, math.nan)])
def test_outside_the_range_is_nan_for_numbers_and_arrays(t_c, rh):
    assert math.isnan(moist_air.dew_point_c(t_c, rh))
    assert math.isnan(moist_air.frost_point_c(t_c, rh))
    assert math.isnan(moist_air.humidity_ratio(t_c, rh, 101_325))
    assert math.isnan(moist_air.wet_bulb_c(t_c, rh, 101_325))
    assert np.isnan(moist_air.dew_point_c([20, t_c], [50, rh])).tolist() == [False, True]


def test_slightly_above_saturation_counts_as_saturated():
    assert moist_air.dew_point_c(20, 100.8) == moist_air.dew_point_c(20, 100)
    assert moist_air.vapour_pressure_pa(20, 105) == moist_air.saturation_pressure_pa(20)


def test_numbers_give_floats_and_arrays_give_arrays_of_the_broadcast_shape():
    assert type(moist_air.dew_point_c(np.float32(20), 50)) is float
    assert type(moist_air.dew_point_margin_k(15, 20, 50)) is float
    assert type(moist_air.dew_point_c(t_c=20, rh_percent=50)) is float
    assert moist_air.dew_point_c([[20], [30]], [40, 50, 60]).shape == (2, 3)
    assert moist_air.dew_point_c([], []).shape == (0,)
    assert np.isnan(moist_air.frost_point_c([20, 5], [50, 20])).tolist() == [True, False]


def test_a_long_column_is_the_same_as_one_by_one():
    rng = np.random.default_rng(7)
    t_c, rh = rng.uniform(-40, 150, 2 * CHUNK + 3), rng.uniform(0.5, 106, 2 * CHUNK + 3)
    column = moist_air.dew_point_c(t_c, rh)
    for index in (0, CHUNK - 1, CHUNK, 2 * CHUNK, 2 * CHUNK + 2):
        np.testing.assert_allclose(column[index], moist_air.dew_point_c(t_c[index], rh[index]), rtol=1e-12)


def test_elevation_outside_the_standard_atmosphere_is_nan():
    assert np.isnan(moist_air.pressure_at_elevation_pa([-5001, 0, 11_001])).tolist() == [True, False, True]
