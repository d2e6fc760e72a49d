"""Saturation pressure of water vapour over water and over ice, its slope and its inverse.

Source: Hyland and Wexler (1983), as printed in ASHRAE Handbook, Fundamentals (2017), chapter 1, eq. 5 (over ice,
-100 to 0 °C) and eq. 6 (over water, 0 to 200 °C). Both have the form, with T in kelvin and p in pascal,

    ln p = a/T + b0 + b1 T + b2 T² + b3 T³ (+ b4 T⁴) + c ln T

Below 0 °C the water equation is *extrapolated*, to -80 °C: there it stays smooth and rising, and follows Sonntag's
formula for supercooled water (the tests say how closely). Probes report relative humidity over water at every
temperature, so this is the curve that their readings mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

ZERO_CELSIUS_K = 273.15


@dataclass(frozen=True)
class SaturationCurve:
    """One Hyland-Wexler equation and the range in which it is used. Methods take and give floats or arrays."""

    over_t: float  # a
    polynomial: tuple[float, ...]  # b0, b1, …
    over_ln_t: float  # c
    lowest_c: float
    highest_c: float
    # The Magnus formula solved for temperature, with one more term, (s0 + s1 x + s2 x²) / (s3 - x) at x = ln p:
    # fitted by us to this very curve over its range. Only where Newton's step starts, so it biases nothing.
    start: tuple[float, float, float, float]

    def ln_pressure(self, temperature_c: Any) -> Any:
        """ln(p / Pa) at saturation. The range is the caller's business (`within`)."""
        kelvin = temperature_c + ZERO_CELSIUS_K
        return self.over_t / kelvin + _polynomial(self.polynomial, kelvin) + self.over_ln_t * np.log(kelvin)

    def slope_per_k(self, temperature_c: Any) -> Any:
        """d(ln p)/dT in 1/K: the exact derivative of `ln_pressure`."""
        kelvin = temperature_c + ZERO_CELSIUS_K
        derivative = tuple(power * factor for power, factor in enumerate(self.polynomial))[1:]
        return (self.over_ln_t - self.over_t / kelvin) / kelvin + _polynomial(derivative, kelvin)

    def temperature_c(self, ln_pressure: Any) -> Any:
        """The temperature at which `ln_pressure` saturates; NaN outside the range.

        One Newton step from a start within 0.04 K leaves less than 0.00001 K and costs a single logarithm.
        """
        s0, s1, s2, s3 = self.start
        start = (s0 + ln_pressure * (s1 + ln_pressure * s2)) / (s3 - ln_pressure)
        return self.within(start + (ln_pressure - self.ln_pressure(start)) / self.slope_per_k(start))

    def within(self, temperature_c: Any) -> Any:
        """The temperature where the curve may be used, NaN elsewhere (0.001 K of grace for the inverse's rounding)."""
        inside = (temperature_c >= self.lowest_c - 0.001) & (temperature_c <= self.highest_c + 0.001)
        return np.where(inside, temperature_c, np.nan)


def _polynomial(ascending: tuple[float, ...], x: Any) -> Any:
    result = ascending[-1]
    for factor in ascending[-2::-1]:
        result = result * x + factor
    return result


WATER = SaturationCurve(
    over_t=-5800.2206,
    polynomial=(1.3914993, -0.048640239, 4.1764768e-5, -1.4452093e-8),
    over_ln_t=6.5459673,
    lowest_c=-80.0,
    highest_c=200.0,
    start=(-1487.65, 237.742, -0.921806, 22.8278),
)

# To the triple point rather than to 0 °C: the two curves meet there.
ICE = SaturationCurve(
    over_t=-5674.5359,
    polynomial=(6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13),
    over_ln_t=4.1635019,
    lowest_c=-100.0,
    highest_c=0.01,
    start=(-1732.58, 270.858, -0.124483, 28.5999),
)
