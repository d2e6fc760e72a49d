"""What has come into the store since one last asked: the way in which a process that isn't the logger hears new readings."""

from __future__ import annotations

from booth.store import Reading
from booth.store.readings import Readings
from booth.times import HOUR, SECOND

LATE_EVERY_US = 10 * SECOND
LATE_WITHIN_US = 2 * HOUR  # what comes later than this is judged when its hour is asked for anew, and in every record


class Arrivals:
    """Follows every point by its newest time, and counts again now and then to find what came late, behind it.

    `arrived` is the newest arrival seen, None before there is any.
    """

    def __init__(self, readings: Readings, now: int) -> None:
        self._readings = readings
        self._places = readings.newest_times()
        newest = [one for name in self._places if (one := readings.latest(name)) is not None]
        self.arrived = max((one.arrived for one in newest), default=None)
        self._count_from(now)

    def new(self, now: int) -> tuple[Reading, ...]:
        """Everything that is in the store now and wasn't the last time, in no particular order."""
        found = self._ahead()
        if now - self._counted_at >= LATE_EVERY_US:
            found += self._behind(now)
        for one in found:
            self.arrived = one.arrived if self.arrived is None else max(self.arrived, one.arrived)
        return tuple(found)

    def _ahead(self) -> list[Reading]:
        found: list[Reading] = []
        for point, newest in self._readings.newest_times().items():
            place = self._places.get(point)
            if place is None or newest > place:
                first = self._since if place is None else place + 1
                fresh = list(self._readings.rows(point, first, newest + 1))
                self._places[point] = newest
                self._held[point] = self._held.get(point, 0) + sum(one.time >= self._since for one in fresh)
                found += fresh
        return found

    def _behind(self, now: int) -> list[Reading]:
        """All of what a point has of the last hours, where there is more of it than was seen."""
        found: list[Reading] = []
        for point, count in self._readings.counts_since(self._since).items():
            if count != self._held.get(point, 0) and point in self._places:
                found += self._readings.rows(point, self._since, self._places[point] + 1)
        self._count_from(now)
        return found

    def _count_from(self, now: int) -> None:
        self._counted_at = now
        self._since = now // HOUR * HOUR - LATE_WITHIN_US
        self._held = self._readings.counts_since(self._since)
