"""Moist air, kept plain and of our own: vapour pressure over water, humidity ratio, dew point.

Saturation over water by Sonntag (1990), Z. Meteorol. 70, 340: another formula than the logger's, on purpose. The
two agree to about 0.005 K in dew point, so a disagreement beyond that is a mistake in one of them.
Ideal-gas mixture, no enhancement factor (0.4 % of the humidity ratio at 25 degC).
"""

from __future__ import annotations

from math import exp, log

KELVIN = 273.15
DRY_GAS = 287.05  # J/(kg K), dry air
HEAT_OF_AIR = 1006.0  # J/(kg K)
HEAT_OF_EVAPORATION = 2.45e6  # J/kg, water near 20 degC
WATER_TO_AIR = 0.62198  # ratio of molar masses


def saturation_pa(temperature_c: float) -> float:
    """Saturation vapour pressure over water [Pa], -40..100 degC (Sonntag 1990, constants for pascals)."""
    t = temperature_c + KELVIN
    return exp(-6096.9385 / t + 21.2409642 - 2.711193e-2 * t + 1.673952e-5 * t * t + 2.433502 * log(t))


def dew_point_c(vapour_pa: float) -> float:
    """Dew point over water [degC] of a vapour pressure [Pa]: Newton on the logarithm, from a Magnus first guess."""
    wanted = log(vapour_pa)
    ratio = wanted - log(611.2)
    guess = 243.12 * ratio / (17.62 - ratio)
    for _ in range(3):
        t = guess + KELVIN
        slope = 6096.9385 / (t * t) - 2.711193e-2 + 2 * 1.673952e-5 * t + 2.433502 / t
        guess -= (log(saturation_pa(guess)) - wanted) / slope
    return guess


def humidity_ratio(vapour_pa: float, pressure_pa: float) -> float:
    """Kilograms of water per kilogram of dry air."""
    return WATER_TO_AIR * vapour_pa / (pressure_pa - vapour_pa)


def vapour_pressure_pa(ratio: float, pressure_pa: float) -> float:
    """Vapour pressure [Pa] of a humidity ratio [kg/kg]: the inverse of `humidity_ratio`."""
    return pressure_pa * ratio / (WATER_TO_AIR + ratio)


def density_kg_m3(temperature_c: float, pressure_pa: float) -> float:
    """Density of the air [kg/m3], taken as dry: vapour lightens it by less than 1 % here."""
    return pressure_pa / (DRY_GAS * (temperature_c + KELVIN))
