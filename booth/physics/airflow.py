"""Air moving through a booth: velocity from velocity pressure, flow at stated conditions, balance of make-up and exhaust.

Sources: Bernoulli's equation for an incompressible stream (below 30 m/s air is one to 0.2 %), as ISO 3966:2008 and ASHRAE
Standard 111 use it; in US units it reads V = 1096.7 √(VP/ρ), or 4005 √VP in standard air (ACGIH Industrial Ventilation).
Density is that of the moist air itself (booth.physics.moist_air.density_kg_m3): at 40 °C and saturated it is a tenth less than
the standard's, and the velocity by 5 % more.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from booth.physics.elementwise import Values, elementwise, plain
from booth.physics.saturation import ZERO_CELSIUS_K


class Basis(NamedTuple):
    """The conditions at which a "standard" flow is told. They lie up to 8 % apart: without its basis a figure says little."""

    name: str
    temperature_c: float
    pressure_pa: float
    source: str


STANDARD_AIR = Basis("70 °F and 29.92 in. Hg", (70 - 32) / 1.8, 101_325.0, "ACGIH Industrial Ventilation, standard air")
STANDARD_EPA = Basis("20 °C and 101.325 kPa", 20.0, 101_325.0, "40 CFR 60.2, standard conditions")
NORMAL = Basis("0 °C and 101.325 kPa", 0.0, 101_325.0, "ISO 13443 and DIN 1343, normal conditions")


@elementwise
def velocity_m_s(velocity_pressure_pa: Values, density_kg_m3: Values, coefficient: Values) -> Values:
    """C √(2 p/ρ). `coefficient` C is the probe's own: 1 for a standard pitot-static tube, about 0.84 for an S-type one.

    NaN for a negative pressure: the stream ran backwards, or the two hoses are the wrong way round. Neither is a small number.
    """
    return coefficient * np.sqrt(2 * velocity_pressure_pa / density_kg_m3)


@elementwise
def velocity_pressure_pa(velocity_m_s: Values, density_kg_m3: Values) -> Values:
    """ρ V²/2, the inverse for a probe whose coefficient is 1."""
    return density_kg_m3 * velocity_m_s**2 / 2


@elementwise
def density_factor(temperature_c: Values, pressure_pa: Values) -> Values:
    """Density over that of standard air, of dry air at other conditions: (530/(460 + t °F))(P/29.92 in. Hg) in US texts."""
    return _ratio(STANDARD_AIR.temperature_c, STANDARD_AIR.pressure_pa, temperature_c, pressure_pa)


def flow_at(flow: Values, temperature_c: Values, pressure_pa: Values, basis: Basis) -> Values:
    """The same mass of air as a flow at the basis; an actual flow in, a standard one out, in the unit of what came in.

    The moisture stays in it on either side, so that "standard" is wet, as the instruments measure.
    """
    return plain(_ratio(basis.temperature_c, basis.pressure_pa, temperature_c, pressure_pa) * np.asarray(flow))


def actual_flow(standard_flow: Values, basis: Basis, temperature_c: Values, pressure_pa: Values) -> Values:
    """The inverse of `flow_at`."""
    return plain(np.asarray(standard_flow) / _ratio(basis.temperature_c, basis.pressure_pa, temperature_c, pressure_pa))


@elementwise
def _ratio(to_c: Values, to_pa: Values, temperature_c: Values, pressure_pa: Values) -> Values:
    """Volume at the one condition over volume at the other, of an ideal gas."""
    return (to_c + ZERO_CELSIUS_K) / (temperature_c + ZERO_CELSIUS_K) * pressure_pa / to_pa


class Balance(NamedTuple):
    """What is supplied less what is exhausted, in kg/s of air, and as a share of the exhaust: below zero draws air in."""

    difference_kg_s: float
    share: float


def make_up_balance(
    supply_m3_s: float, supply_density_kg_m3: float, exhaust_m3_s: float, exhaust_density_kg_m3: float
) -> Balance:
    """Supply against exhaust by mass, since heated make-up air is thinner: by volume a balanced booth looks out of balance.

    ValueError for a negative flow, and for an exhaust of nothing.
    """
    for name, flow in (("supply", supply_m3_s), ("exhaust", exhaust_m3_s)):
        if not flow >= 0:
            raise ValueError(f"the {name} flow is {flow} m³/s: a reversed or missing flow has no balance; look at the fan first")
    supply, exhaust = supply_m3_s * supply_density_kg_m3, exhaust_m3_s * exhaust_density_kg_m3
    if exhaust == 0:
        raise ValueError("the exhaust flow is 0: there is no balance without an exhaust")
    return Balance(supply - exhaust, (supply - exhaust) / exhaust)
