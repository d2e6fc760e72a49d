"""The air in one booth: a well-mixed volume with walls, exact for inputs that stand still during a step.

    C dT/dt = m cp (Ts - T) + UA (Tw - T) + Gv (Tv - T)        M dW/dt = m (Ws - W) + evaporation

At 22 m3/s the volume changes in under nine seconds; in bake the walls and the van slow it down.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from simulators.moist_air import HEAT_OF_AIR, density_kg_m3

VOLUME_M3 = 190.0
FLOOR_M2 = 45.0
WALL_W_K = 1100.0  # booth air to the inner skin of the walls, about 180 m2
WALL_J_K = 1.5e6
HALL_W_K = 130.0  # through the insulated panel to the hall


@dataclass
class BoothAir:
    """State: air and wall temperature [degC], humidity ratio [kg/kg]."""

    temperature_c: float = 22.0
    humidity_ratio: float = 0.009
    wall_c: float = 22.0

    def step(
        self,
        dt: float,
        flow_m3_s: float,
        supply_c: float,
        supply_ratio: float,
        pressure_pa: float,
        hall_c: float,
        van_w_k: float = 0.0,
        van_c: float = 0.0,
        evaporation_kg_s: float = 0.0,
    ) -> None:
        """Advance by dt seconds. `van_w_k` is the conductance to the van's skin, `van_c` its mean temperature."""
        density = density_kg_m3(self.temperature_c, pressure_pa)
        mass = density * VOLUME_M3
        mass_flow = density * flow_m3_s
        carried = mass_flow * HEAT_OF_AIR
        total = carried + WALL_W_K + van_w_k
        settled = (carried * supply_c + WALL_W_K * self.wall_c + van_w_k * van_c) / total
        self.temperature_c = settled + (self.temperature_c - settled) * exp(-total * dt / (mass * HEAT_OF_AIR))
        self._moisten(dt, mass, mass_flow, supply_ratio, evaporation_kg_s)
        conductance = WALL_W_K + HALL_W_K
        wall_goal = (WALL_W_K * self.temperature_c + HALL_W_K * hall_c) / conductance
        self.wall_c = wall_goal + (self.wall_c - wall_goal) * exp(-conductance * dt / WALL_J_K)

    def _moisten(self, dt: float, mass: float, mass_flow: float, supply_ratio: float, evaporation: float) -> None:
        if mass_flow <= 0.0:
            self.humidity_ratio += evaporation * dt / mass
            return
        settled = supply_ratio + evaporation / mass_flow
        self.humidity_ratio = settled + (self.humidity_ratio - settled) * exp(-mass_flow * dt / mass)
