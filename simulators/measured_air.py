"""Outside air as a weather station measured it: real fronts and seasons, from one value an hour to any second of the day.

An hour's value stands as it was measured. Between two of them the air goes in a straight line, with a little unrest of our own
that vanishes at the full hours: nobody measured what lies between. So a real front, which passes in minutes, takes an hour here.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from simulators.moist_air import humidity_ratio, saturation_pa
from simulators.wander import Wander
from simulators.weather import HOUR, Outside

HOURS = 25  # of a day, both midnights counted


@dataclass(frozen=True)
class MeasuredDay:
    """A day of a station, its values at the full hours from midnight to midnight, local standard time. `date` is "MM-DD"."""

    station: str
    date: str
    temperature_c: tuple[float, ...]
    dew_point_c: tuple[float, ...]  # over water, below freezing too, as stations report it
    pressure_pa: tuple[float, ...]

    def __post_init__(self) -> None:
        for name in ("temperature_c", "dew_point_c", "pressure_pa"):
            if len(getattr(self, name)) != HOURS:
                raise ValueError(f"{self.station}, {self.date}: {name} has {len(getattr(self, name))} values; give {HOURS}")


class MeasuredAir:
    """`at(second)`: the outside air at a second after local midnight, as Weather.at. Pure: same seed and second, same air."""

    def __init__(self, seed: int, day: MeasuredDay) -> None:
        rng = Random(f"{seed}/measured air")
        self.day = day
        self._temperature = Wander(rng, 0.3)
        self._dew_point = Wander(rng, 0.2)
        self._gust = Wander(rng, 0.9, (97.0, 41.0, 23.0))  # an hourly file says nothing of gusts: these are invented

    def at(self, second: float) -> Outside:
        day = self.day
        if not 0 <= second <= 24 * HOUR:
            raise ValueError(f"{day.station}, {day.date} has no second {second:g}; a shift under measured air ends by midnight")
        hour = min(int(second // HOUR), HOURS - 2)
        passed = second / HOUR - hour
        unrest = 4 * passed * (1 - passed)
        temperature = between(day.temperature_c, hour, passed) + unrest * self._temperature(second)
        dew_point = between(day.dew_point_c, hour, passed) + unrest * self._dew_point(second)
        dew_point = min(dew_point, temperature)
        pressure = between(day.pressure_pa, hour, passed)
        return Outside(temperature, dew_point, humidity_ratio(saturation_pa(dew_point), pressure), pressure, self._gust(second))


def between(values: tuple[float, ...], hour: int, passed: float) -> float:
    """On the straight line from one hour's value to the next, `passed` of the hour gone."""
    return values[hour] + (values[hour + 1] - values[hour]) * passed
