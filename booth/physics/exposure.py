"""Arithmetic on measured concentrations: time-weighted average, sum of a mixture, ppm to mg/m³ and back.

Sources: 29 CFR 1910.1000(d)(1)(i) and (d)(2)(i), with their worked examples; the ideal gas law. On figures that somebody
measured and limits that somebody looked up: nothing here knows a limit, and nothing here says that anybody is safe. Exposure is
measured on a person; it doesn't follow from what was bought or from how the air moved.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from booth.physics.dilution import GAS_CONSTANT
from booth.physics.elementwise import Values, elementwise
from booth.physics.saturation import ZERO_CELSIUS_K

RULE_H = 8.0
"""By which the rule divides, however long the shift was."""


def time_weighted_average(concentrations: Sequence[float], hours: Sequence[float], shift_h: float = RULE_H) -> float:
    """ΣC T/8, in the unit of the concentrations: 29 CFR 1910.1000(d)(1)(i).

    The times must add up to the shift or more: time that nobody sampled isn't time without exposure, so a stretch without any is
    entered with 0. ValueError otherwise. A shift of twelve hours, too, is divided by eight, as the rule says: so it weighs more.
    """
    _pairs(concentrations, hours, "hours")
    _not_negative(concentrations, "concentration")
    _not_negative(hours, "time")
    total = math.fsum(hours)
    if total < shift_h - 1e-9:
        raise ValueError(
            f"the times add up to {total:g} h of a shift of {shift_h:g} h: enter the rest too, with 0 only if it was known to be "
            "without exposure"
        )
    return math.fsum(c * t for c, t in zip(concentrations, hours, strict=True)) / RULE_H


def mixture_sum(concentrations: Sequence[float], limits: Sequence[float]) -> float:
    """ΣC/L: 29 CFR 1910.1000(d)(2)(i). Above 1 the mixture exceeds its limit. Each pair in one unit.

    It holds for substances that act alike; whether these do is for an industrial hygienist to say.
    """
    _pairs(concentrations, limits, "limits")
    _not_negative(concentrations, "concentration")
    for number, limit in enumerate(limits, 1):
        if not (limit > 0 and math.isfinite(limit)):
            raise ValueError(f"limit {number} is {limit:g}: a limit is above zero; leave a substance without one out, and say so")
    return math.fsum(c / limit for c, limit in zip(concentrations, limits, strict=True))


@elementwise
def mg_m3_of_ppm(ppm: Values, molar_mass_g_mol: Values, temperature_c: Values, pressure_pa: Values) -> Values:
    """ppm M p/(R T) in mg/m³. At 25 °C and 760 mmHg it is ppm M/24.45, which is what lists of limits use."""
    return ppm * molar_mass_g_mol * pressure_pa / (GAS_CONSTANT * (temperature_c + ZERO_CELSIUS_K)) / 1000


@elementwise
def ppm_of_mg_m3(mg_m3: Values, molar_mass_g_mol: Values, temperature_c: Values, pressure_pa: Values) -> Values:
    """The inverse. The same mass is more ppm in thin air: a reading at altitude isn't comparable without its pressure."""
    return mg_m3 * 1000 * GAS_CONSTANT * (temperature_c + ZERO_CELSIUS_K) / (molar_mass_g_mol * pressure_pa)


def _pairs(first: Sequence[float], second: Sequence[float], what: str) -> None:
    if not first or len(first) != len(second):
        raise ValueError(f"{len(first)} concentrations but {len(second)} {what}: give one for each")


def _not_negative(values: Sequence[float], what: str) -> None:
    for number, value in enumerate(values, 1):
        if not (value >= 0 and math.isfinite(value)):
            raise ValueError(f"{what} {number} is {value:g}: it is a number from 0 up; for one below detection, enter its limit")
