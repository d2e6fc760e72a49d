"""How much air thins a vapour to a stated share, and how it clears. All estimates: they assume mixing that nobody measured.

Sources: 29 CFR 1910.94(c)(6)(ii) (air by gallon of solvent, to 25 % of the lower explosive limit), ACGIH Industrial Ventilation,
chapter 2 (dilution for health and for fire, build-up and decay), CDC (2003), appendix B (purge times), Le Chatelier's rule
for mixtures. A fire limit is no health limit: a quarter of toluene's explosive limit is 3500 ppm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from booth.physics.elementwise import Values, elementwise
from booth.physics.saturation import ZERO_CELSIUS_K

GAS_CONSTANT = 8.314462618
"""J/(mol K), exact in the SI since 2019."""


@elementwise
def vapour_volume(liquid_density_kg_m3: Values, molar_mass_g_mol: Values, temperature_c: Values, pressure_pa: Values) -> Values:
    """Volumes of vapour from one volume of liquid, of an ideal gas. (Table G-11 prints ft³ by US gallon.)"""
    molar_volume = GAS_CONSTANT * (temperature_c + ZERO_CELSIUS_K) / pressure_pa
    return liquid_density_kg_m3 / (molar_mass_g_mol / 1000) * molar_volume


def dilution_volume(vapour_volume: float, lel_percent: float, share: float = 0.25) -> float:
    """Air that thins the vapour of one unit of liquid to a share of its lower explosive limit, in the unit of `vapour_volume`.

    1910.94(c)(6)(ii): 4 (100 - LEL)(vapour per gallon)/LEL at a quarter. Multiply by the liquid evaporated in a minute for the
    flow. ValueError outside 0 < LEL < 100 and 0 < share <= 1.
    """
    if not 0 < lel_percent < 100:
        raise ValueError(f"a lower explosive limit lies between 0 and 100 % by volume, not at {lel_percent}")
    if not 0 < share <= 1:
        raise ValueError(f"the share of the lower explosive limit lies above 0 and at 1 or below, not at {share}; write 0.25")
    if not vapour_volume > 0:
        raise ValueError(f"the volume of vapour must be above zero, not {vapour_volume}")
    return (100 - lel_percent) * vapour_volume / (lel_percent * share)


def share_of_lel(vapour_m3_s: float, air_m3_s: float, lel_percent: float) -> float:
    """The share of the lower explosive limit that a steady release would reach in this much air, evenly mixed.

    The inverse of `dilution_volume`. An estimate: near the gun and in corners it is more. Never a gas reading.
    """
    if not air_m3_s > 0:
        raise ValueError(f"the air flow must be above zero, not {air_m3_s} m³/s: without air nothing is diluted")
    if not vapour_m3_s >= 0:
        raise ValueError(f"the vapour can't be {vapour_m3_s} m³/s")
    return vapour_m3_s / air_m3_s * (100 - lel_percent) / lel_percent


def mixture_lel_percent(vapour_shares: Sequence[float], lel_percents: Sequence[float]) -> float:
    """Le Chatelier: 1/Σ(y/LEL), of vapours whose shares by volume add up to 1. ValueError otherwise."""
    if len(vapour_shares) != len(lel_percents):
        raise ValueError(f"{len(vapour_shares)} shares but {len(lel_percents)} limits: give one limit for each vapour")
    if not math.isclose(math.fsum(vapour_shares), 1, abs_tol=0.001):
        raise ValueError(f"the shares of the vapours add up to {math.fsum(vapour_shares):g}: make them 1")
    if not all(0 < one < 100 for one in lel_percents):
        raise ValueError("each lower explosive limit lies between 0 and 100 % by volume")
    return 1 / math.fsum(share / lel for share, lel in zip(vapour_shares, lel_percents, strict=True))


def dilution_flow_m3_s(vapour_m3_s: float, concentration_ppm: float, mixing_factor: float) -> float:
    """Air that holds a steady release at a concentration: K G/C (ACGIH chapter 2, dilution for health)."""
    if not concentration_ppm > 0 or not mixing_factor >= 1:
        raise ValueError(
            "a concentration above zero and a mixing factor of 1 or more are needed, "
            f"not {concentration_ppm} ppm and {mixing_factor}"
        )
    return mixing_factor * vapour_m3_s / (concentration_ppm * 1e-6)


def fire_flow_m3_s(
    vapour_m3_s: float, lel_percent: float, safety_factor: float, hot_factor: float, temperature_c: float, standard_c: float
) -> float:
    """Air at the oven's temperature that holds a steady release below LEL/`safety_factor` (ACGIH chapter 2, dilution for fire).

    `hot_factor` B lowers the explosive limit above 120 °C: 0.7 there, 1 below. `vapour_m3_s` is at `standard_c`.
    """
    if not (0 < lel_percent < 100 and safety_factor >= 1 and 0 < hot_factor <= 1):
        raise ValueError("0 < LEL < 100 %, a safety factor of 1 or more and a hot factor between 0 and 1 are needed")
    standard = vapour_m3_s * safety_factor * 100 / (lel_percent * hot_factor)
    return standard * (temperature_c + ZERO_CELSIUS_K) / (standard_c + ZERO_CELSIUS_K)


@elementwise
def clearing_time_s(air_changes_per_h: Values, share_left: Values, mixing_factor: Values) -> Values:
    """Until so large a share of a contaminant is left: -K ln(share)/n, with no source going on. CDC (2003), table B.1 has K = 1.

    NaN for a mixing factor below 1, a share outside 0 to 1 and without air changes.
    """
    possible = (mixing_factor >= 1) & (share_left > 0) & (share_left <= 1) & (air_changes_per_h > 0)
    return np.where(possible, -3600 * mixing_factor * np.log(share_left) / air_changes_per_h, np.nan)


@elementwise
def air_changes_of_decay(first: Values, last: Values, seconds: Values) -> Values:
    """Air changes per hour that a tracer's decay shows: ln(C1/C2)/t, K included. NaN unless it decays."""
    return np.where((first > last) & (last > 0) & (seconds > 0), 3600 * np.log(first / last) / seconds, np.nan)


@elementwise
def build_up_ppm(vapour_m3_s: Values, air_m3_s: Values, volume_m3: Values, seconds: Values) -> Values:
    """Concentration after a time from clean air under a steady release: (G/Q)(1 - exp(-Q t/V)), evenly mixed."""
    return 1e6 * vapour_m3_s / air_m3_s * -np.expm1(-air_m3_s * seconds / volume_m3)
