"""Outside air through the day: sun, drifting moisture, and a humid front that passes once."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, exp, pi
from random import Random
from typing import NamedTuple

from simulators.moist_air import humidity_ratio, saturation_pa
from simulators.wander import Wander

HOUR = 3600.0


@dataclass(frozen=True)
class Climate:
    """A day's weather in a few numbers; times are seconds after local midnight, differences in kelvin."""

    coolest_c: float = 15.5
    warmest_c: float = 25.0
    warmest_at: float = 15.5 * HOUR
    dew_point_before_c: float = 13.0
    dew_point_after_c: float = 21.5
    front_at: float = 10.9 * HOUR
    front_scale_s: float = 150.0  # the dew point makes 90 % of its step in about six of these
    pressure_pa: float = 98_240.0  # standard atmosphere at 260 m


class Outside(NamedTuple):  # one is made every second
    temperature_c: float
    dew_point_c: float
    humidity_ratio: float
    pressure_pa: float
    gust_pa: float  # what the wind adds to the pressure between booth and hall


class Weather:
    """`at(second)`: the outside air at a second after local midnight. Pure: same seed and second, same air."""

    def __init__(self, seed: int, climate: Climate) -> None:
        rng = Random(f"{seed}/weather")
        self.climate = climate
        self._temperature = Wander(rng, 0.4)
        self._dew_point = Wander(rng, 0.3)
        self._pressure = Wander(rng, 40.0, (9000.0, 4100.0))
        self._gust = Wander(rng, 0.9, (97.0, 41.0, 23.0))

    def at(self, second: float) -> Outside:
        climate = self.climate
        passed = 1 / (1 + exp((climate.front_at - second) / climate.front_scale_s))
        middle = (climate.coolest_c + climate.warmest_c) / 2
        swing = (climate.warmest_c - climate.coolest_c) / 2
        sun = middle + swing * cos(2 * pi * (second - climate.warmest_at) / (24 * HOUR))
        temperature = sun + self._temperature(second)
        step = climate.dew_point_after_c - climate.dew_point_before_c
        dew_point = min(climate.dew_point_before_c + step * passed + self._dew_point(second), temperature - 0.3)
        pressure = climate.pressure_pa - 250.0 * passed + self._pressure(second)
        ratio = humidity_ratio(saturation_pa(dew_point), pressure)
        return Outside(temperature, dew_point, ratio, pressure, self._gust(second))
