"""Mask room and mix room: air-conditioned rooms that drift about their setpoint, and the pot that follows its room."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from simulators.makeup_air import towards
from simulators.moist_air import humidity_ratio, saturation_pa, vapour_pressure_pa
from simulators.wander import Wander
from simulators.weather import Outside

ROOM_LAG_S = 600.0
MOISTURE_LAG_S = 1500.0
POT_LAG_S = 1500.0
DRIEST_SHARE = 0.55  # the air conditioner condenses whatever is above this relative humidity


@dataclass
class Room:
    """`temperature_c` [degC] and `humidity_ratio` [kg/kg] of the room; `pot_c` of an open pot in it."""

    wander: Wander
    base_c: float = 22.0
    temperature_c: float = 22.0
    humidity_ratio: float = 0.009
    pot_c: float = 21.5

    @classmethod
    def seeded(cls, name: str, seed: int) -> Room:
        return cls(Wander(Random(f"{seed}/{name}"), 0.35))

    def step(self, dt: float, second: float, outside: Outside, setpoint_c: float) -> None:
        self.base_c = towards(self.base_c, setpoint_c, dt, ROOM_LAG_S)
        self.temperature_c = self.base_c + self.wander(second)
        wettest = humidity_ratio(DRIEST_SHARE * saturation_pa(self.temperature_c), outside.pressure_pa)
        goal = min(outside.humidity_ratio, wettest)
        self.humidity_ratio = towards(self.humidity_ratio, goal, dt, MOISTURE_LAG_S)
        self.pot_c = towards(self.pot_c, self.temperature_c, dt, POT_LAG_S)

    def values(self, pressure_pa: float) -> dict[str, float]:
        """The true value of every point of the room."""
        vapour = vapour_pressure_pa(self.humidity_ratio, pressure_pa)
        humidity = 100.0 * vapour / saturation_pa(self.temperature_c)
        air = {"air-temperature": self.temperature_c, "humidity": humidity}
        return {**air, "pot-1": self.pot_c, "barometer": pressure_pa}
