"""What the store holds that the mirror hasn't sent.

Readings have no common order of arrival, but each point's own order is kept by the primary key (point, time, ordinal): what is
newer than the place that the mirror has reached is found by one look into it. What came late lies behind that place; it is found
because its hour then holds more readings than were sent (`rows_by_hour` against `Memory.rows_sent`), hot and sealed together.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

from booth.store import Reading, Store

_FOREVER = 2**62


class Arrivals:
    """Reads one store, over a connection of its own. Raises StoreError where that can't be done."""

    def __init__(self, directory: Path) -> None:
        self.store = Store.open(directory)

    def points(self) -> list[str]:
        """Every point that ever had a reading, configured today or not."""
        return self.store.readings.points()

    def after(self, point: str, time: int) -> Iterator[list[Reading]]:
        """What is newer than a time, oldest first; readings that contradict each other about one moment come together."""
        return self.between(point, time + 1, _FOREVER)

    def between(self, point: str, start: int, end: int) -> Iterator[list[Reading]]:
        """What lies in [start, end), likewise."""
        for _, readings in groupby(self.store.readings.rows(point, start, end), key=lambda reading: reading.time):
            yield list(readings)

    def first(self, point: str) -> int | None:
        """Time of a point's oldest reading."""
        span = self.store.readings.span(point)
        return None if span is None else span[0]

    def waiting(self, point: str, time: int) -> tuple[int, int | None]:
        """How many readings are newer than a time, and when the oldest of them was taken."""
        return self.store.readings.waiting(point, time)

    def rows_by_hour(self, point: str, start: int, place: int) -> dict[int, int]:
        """How many readings a point has from `start` (a full hour) up to and with `place`, by hours since 1970.

        A sealed hour that reaches beyond the place isn't counted; it will be, once the place has passed it.
        """
        return self.store.readings.counts_by_hour(point, start, place)

    def close(self) -> None:
        self.store.close()
