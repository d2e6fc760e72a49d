"""Moist air: dew point, frost point, margin, humidity ratio, wet bulb, density, enthalpy.

Source, unless a function says otherwise: ASHRAE Handbook, Fundamentals (2017), chapter 1, whose equation numbers are
given. Every function takes numbers or arrays (they broadcast) and gives a `float` or an array.

Conventions, and where they differ from others':

- `rh_percent` is relative humidity **over water** at every temperature, as probes report it (WMO-No. 8). ASHRAE and the
  libraries that follow it take it over ice below 0 °C; the vapour pressure then differs by a tenth at -10 °C.
- Range: -40 to 150 °C, humidity above 0 and up to 105 %. A reading of 100.8 % is common in saturated air, so 100 to
  105 % counts as 100 %; above that the probe is wet or broken. Outside the range the result is NaN, also for numbers.
- Air is an ideal gas here. The humidity ratio is then 0.4 % low at 25 °C and 1.2 % low at 85 °C, saturated (against the
  real-gas table 2 of the same chapter); the dew point isn't touched.
- Pressure is always an argument: no function assumes sea level.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from booth.physics.elementwise import Values, elementwise, plain
from booth.physics.saturation import ICE, WATER, ZERO_CELSIUS_K

LOWEST_C, HIGHEST_C = -40.0, 150.0
SATURATED_PERCENT, NOT_USABLE_ABOVE_PERCENT = 100.0, 105.0

_RATIO = 0.621945  # molar mass of water over that of dry air, eq. 20
_GAS_CONSTANT_DRY_AIR = 287.042  # J/(kg K), eq. 1


@elementwise
def saturation_pressure_pa(temperature_c: Values) -> Values:
    """Vapour pressure over water, in Pa; eq. 6, published for 0 to 200 °C, extrapolated to -80 °C, NaN outside."""
    return np.exp(WATER.ln_pressure(WATER.within(temperature_c)))


@elementwise
def ice_saturation_pressure_pa(temperature_c: Values) -> Values:
    """Vapour pressure over ice, in Pa; eq. 5, -100 °C to the triple point at 0.01 °C, NaN outside."""
    return np.exp(ICE.ln_pressure(ICE.within(temperature_c)))


@elementwise
def vapour_pressure_pa(t_c: Values, rh_percent: Values) -> Values:
    """Partial pressure of the vapour in the air, in Pa; eq. 12 and 22."""
    return np.exp(_ln_vapour_pressure(t_c, rh_percent))


@elementwise
def dew_point_c(t_c: Values, rh_percent: Values) -> Values:
    """Temperature at which water condenses on a surface, in °C, over water at every temperature.

    The inverse of eq. 6 itself, not the regression of eq. 37 and 38. Never above `t_c`; NaN below -80 °C.
    """
    return np.minimum(WATER.temperature_c(_ln_vapour_pressure(t_c, rh_percent)), t_c)


def frost_point_c(t_c: Values, rh_percent: Values) -> float | np.ndarray | None:
    """Temperature at which frost forms on a surface, in °C: the inverse of eq. 5, where the dew point is below 0 °C.

    Elsewhere there is none: None for numbers, NaN in arrays. It lies between the dew point and 0 °C.
    """
    frost = _frost_point_or_nan(t_c, rh_percent)
    return None if isinstance(frost, float) and dew_point_c(t_c, rh_percent) >= 0 else frost


def dew_point_margin_k(surface_c: Values, t_c: Values, rh_percent: Values) -> Values:
    """Surface temperature minus dew point, in K: what ISO 8502-4 and ISO 12944-7 ask to be at least 3 K.

    Temperature and humidity must come from the same probe; the surface from the part.
    """
    return plain(np.subtract(surface_c, dew_point_c(t_c, rh_percent)))


def dew_point_sensitivity(t_c: Values, rh_percent: Values) -> tuple[Values, Values]:
    """Partial derivatives of the dew point: by air temperature (K per K) and by humidity (K per % RH).

    From e(dew point) = RH e(T) with s = d(ln e)/dT: s(T) / s(dew point) and 1 / (RH s(dew point)). With them the
    uncertainty of a dew point follows from those of its two readings (JCGM 100:2008, eq. 10). Where 100 to 105 % counts
    as 100 %, these are the derivatives at 100 %.
    """
    return _dew_point_per_k(t_c, rh_percent), _dew_point_per_percent(t_c, rh_percent)


@elementwise
def humidity_ratio(t_c: Values, rh_percent: Values, pressure_pa: Values) -> Values:
    """Mass of vapour by mass of dry air, kg/kg; eq. 20. NaN where the vapour alone would exceed the pressure."""
    return _ratio_at(np.exp(_ln_vapour_pressure(t_c, rh_percent)), pressure_pa)


@elementwise
def humidity_ratio_at_wet_bulb(t_c: Values, wet_bulb_c: Values, pressure_pa: Values) -> Values:
    """Humidity ratio from the thermodynamic wet bulb, kg/kg; eq. 33 (water bulb, from 0 °C) and 35 (ice bulb, below)."""
    return np.where(
        np.greater_equal(wet_bulb_c, 0),
        _ratio_at_water_bulb(t_c, wet_bulb_c, pressure_pa),
        _ratio_at_ice_bulb(t_c, wet_bulb_c, pressure_pa),
    )


@elementwise
def wet_bulb_c(t_c: Values, rh_percent: Values, pressure_pa: Values) -> Values:
    """Thermodynamic wet-bulb temperature, in °C: eq. 33 and 35 solved by bisection, to 0.000 001 K.

    Just below 0 °C both a water bulb and an ice bulb are possible, up to 0.7 K apart: the water bulb is given where
    there is one at or above 0 °C. Air that is supersaturated over ice has its wet bulb at `t_c`.
    """
    ratio = _ratio_at(np.exp(_ln_vapour_pressure(t_c, rh_percent)), pressure_pa)
    water = ratio >= _ratio_at_water_bulb(t_c, 0.0, pressure_pa)
    low = np.where(water, 0.0, ICE.lowest_c)
    high = np.where(water, t_c, np.minimum(t_c, 0.0))
    for _ in range(28):  # 190 K halved 28 times
        middle = (low + high) / 2
        found = np.where(water, _ratio_at_water_bulb(t_c, middle, pressure_pa), _ratio_at_ice_bulb(t_c, middle, pressure_pa))
        # NaN: the bulb would boil, so the answer lies below.
        too_low = found < ratio
        low, high = np.where(too_low, middle, low), np.where(too_low, high, middle)
    return np.where(np.isnan(ratio), np.nan, (low + high) / 2)


@elementwise
def enthalpy_j_kg(t_c: Values, humidity_ratio: Values) -> Values:
    """Enthalpy in J per kg of dry air, zero for dry air at 0 °C; eq. 30."""
    return 1000 * (1.006 * t_c + humidity_ratio * (2501 + 1.86 * t_c))


@elementwise
def density_kg_m3(t_c: Values, humidity_ratio: Values, pressure_pa: Values) -> Values:
    """Mass of moist air by volume, kg/m³; eq. 11 with the specific volume of eq. 26."""
    volume = _GAS_CONSTANT_DRY_AIR * (t_c + ZERO_CELSIUS_K) * (1 + 1.607858 * humidity_ratio) / pressure_pa
    return (1 + humidity_ratio) / volume


@elementwise
def pressure_at_elevation_pa(elevation_m: Values) -> Values:
    """Pressure of the standard atmosphere, in Pa; eq. 3, -5000 to 11 000 m, NaN outside.

    The weather moves the true pressure by a few per cent about it; that does not touch the dew point.
    """
    inside = (elevation_m >= -5000) & (elevation_m <= 11_000)
    return np.where(inside, 101_325 * (1 - 2.25577e-5 * elevation_m) ** 5.2559, np.nan)


def _ln_vapour_pressure(t_c: Any, rh_percent: Any) -> Any:
    in_range = (t_c >= LOWEST_C) & (t_c <= HIGHEST_C) & (rh_percent > 0) & (rh_percent <= NOT_USABLE_ABOVE_PERCENT)
    fraction = np.where(in_range, np.minimum(rh_percent, SATURATED_PERCENT) / 100, np.nan)
    return WATER.ln_pressure(t_c) + np.log(fraction)


@elementwise
def _frost_point_or_nan(t_c: Values, rh_percent: Values) -> Values:
    ln_vapour_pressure = _ln_vapour_pressure(t_c, rh_percent)
    return np.where(WATER.temperature_c(ln_vapour_pressure) < 0, ICE.temperature_c(ln_vapour_pressure), np.nan)


@elementwise
def _dew_point_per_k(t_c: Values, rh_percent: Values) -> Values:
    dew_point = WATER.temperature_c(_ln_vapour_pressure(t_c, rh_percent))
    return WATER.slope_per_k(t_c) / WATER.slope_per_k(dew_point)


@elementwise
def _dew_point_per_percent(t_c: Values, rh_percent: Values) -> Values:
    dew_point = WATER.temperature_c(_ln_vapour_pressure(t_c, rh_percent))
    return 1 / (np.minimum(rh_percent, SATURATED_PERCENT) * WATER.slope_per_k(dew_point))


def _ratio_at(vapour_pressure_pa: Any, pressure_pa: Any) -> Any:
    return np.where(vapour_pressure_pa < pressure_pa, _RATIO * vapour_pressure_pa / (pressure_pa - vapour_pressure_pa), np.nan)


def _ratio_at_water_bulb(t_c: Any, bulb_c: Any, pressure_pa: Any) -> Any:
    saturated = _ratio_at(np.exp(WATER.ln_pressure(bulb_c)), pressure_pa)
    return ((2501 - 2.326 * bulb_c) * saturated - 1.006 * (t_c - bulb_c)) / (2501 + 1.86 * t_c - 4.186 * bulb_c)


def _ratio_at_ice_bulb(t_c: Any, bulb_c: Any, pressure_pa: Any) -> Any:
    saturated = _ratio_at(np.exp(ICE.ln_pressure(bulb_c)), pressure_pa)
    return ((2830 - 0.24 * bulb_c) * saturated - 1.006 * (t_c - bulb_c)) / (2830 + 1.86 * t_c - 2.1 * bulb_c)
