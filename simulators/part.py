"""A van's skin, zone by zone: a lumped heat capacity in moving air, with a wet film that cools it as it dries.

    c dT/dt = (h + b) (T_air - T) - L m      h = 8 + 6 v W/(m2 K) outside, convection and radiation together; b behind
    m = (h / rho cp) * retardation * (pv_skin - pv_air) / (Rv T)                    water, by the Lewis analogy
    m = solvent / 240 s                                                              solvent, first order

Capacities per area are thickness x density x heat capacity of the panel with what is behind it (textbook densities
from memory). Film amounts are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from simulators.moist_air import HEAT_OF_AIR, HEAT_OF_EVAPORATION, KELVIN, saturation_pa

CAPACITY_J_M2_K = {
    "fibreglass": 6_900.0,  # 4 mm of laminate
    "gelcoat": 8_700.0,  # 5 mm with its gelcoat and print blocker
    "steel": 9_600.0,  # about 2.5 mm: sheet with its flanges, stiffeners and double skins
}
SOLVENT_HEAT = 0.38e6  # J/kg
SOLVENT_LAG_S = 240.0
BEHIND_W_M2_K = 5.0  # from the van's inside, its doors and windows open to the booth
RETARDATION = 0.24  # a paint film gives up water more slowly than a puddle: binder, cosolvent, skin
VAPOUR_GAS = 461.5  # J/(kg K)
HALL_C = 23.0  # around the booth; height differences of the bake air are measured against it


@dataclass(frozen=True)
class Film:
    """What a whole coat leaves on a square metre [kg/m2]."""

    water: float = 0.0
    solvent: float = 0.0


FILMS = {
    "epoxy-sealer": Film(solvent=0.025),
    "waterborne-base": Film(water=0.017, solvent=0.004),
    "two-pack-clear": Film(solvent=0.030),
}


def conductance_w_m2_k(velocity: float) -> float:
    """Heat transfer of a skin's outside in air moving at `velocity` m/s; form and size of Juerges' plate rule, from memory."""
    return 8.0 + 6.0 * velocity


@dataclass
class Skin:
    """One zone. `height_share` is how much warmer its air is than the mean, per kelvin of booth air over the hall."""

    substrate: str
    area_m2: float
    height_share: float = 0.0
    temperature_c: float = 22.0
    water: float = 0.0  # kg/m2 still in the film
    solvent: float = 0.0

    def spray(self, film: Film, share: float) -> None:
        """Lay down a share of a coat's film."""
        self.water += film.water * share
        self.solvent += film.solvent * share

    def step(self, dt: float, air_c: float, vapour_pa: float, velocity: float, density: float) -> float:
        """Advance by dt seconds in air of that temperature, vapour pressure and velocity; returns water lost [kg/s]."""
        transfer = conductance_w_m2_k(velocity)
        local_c = air_c + self.height_share * (air_c - HALL_C)
        lost = min(self.water, dt * self._drying(transfer, vapour_pa, density)) if self.water else 0.0
        self.water -= lost
        drained = self.solvent * (1 - exp(-dt / SOLVENT_LAG_S)) if self.solvent else 0.0
        self.solvent -= drained
        total = transfer + BEHIND_W_M2_K
        settled = local_c - (lost * HEAT_OF_EVAPORATION + drained * SOLVENT_HEAT) / (dt * total)
        fade = exp(-total * dt / CAPACITY_J_M2_K[self.substrate])
        self.temperature_c = settled + (self.temperature_c - settled) * fade
        return lost * self.area_m2 / dt

    def _drying(self, transfer: float, vapour_pa: float, density: float) -> float:
        """Water that leaves a square metre each second [kg/(m2 s)]; a humid booth stops it, it never condenses here."""
        speed = transfer / (density * HEAT_OF_AIR) * RETARDATION
        excess = saturation_pa(self.temperature_c) - vapour_pa
        return max(0.0, speed * excess / (VAPOUR_GAS * (self.temperature_c + KELVIN)))
