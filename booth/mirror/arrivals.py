"""What the store holds that the mirror hasn't sent. The one place where the mirror reads the store's tables itself.

Readings have no common order of arrival, but each point's own order is kept by the primary key (point, time, ordinal): what is
newer than the place that the mirror has reached is found by one look into it. What came late lies behind that place; it is found
because its hour then holds more readings than were sent (`rows_by_hour` against `Memory.rows_sent`), hot and sealed together.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

from booth.store import Reading, Store
from booth.store.database import Database
from booth.store.store import FILE
from booth.times import HOUR

_FOREVER = 2**62
_POINT = "(SELECT id FROM point WHERE text = ?)"


class Arrivals:
    """Reads one store, over connections of its own. Raises StoreError where that can't be done."""

    def __init__(self, directory: Path) -> None:
        self.store = Store.open(directory)
        self._database = Database(directory / FILE)
        self._database.execute("PRAGMA query_only = ON")

    def points(self) -> list[str]:
        """Every point that ever had a reading, configured today or not."""
        return [text for (text,) in self._database.rows("SELECT text FROM point ORDER BY text")]

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
        """How many readings are newer than a time, and when the oldest of them was taken.

        Where the time lies in a sealed hour, the whole hour is counted: only opening it would tell how much of it is newer.
        """
        hot = self._database.row(f"SELECT count(*), min(time) FROM reading WHERE point = {_POINT} AND time > ?", (point, time))
        sealed = self._database.row(
            f"SELECT sum(count), max(min(first_time), ?) FROM sealed_hour WHERE point = {_POINT} AND last_time > ?",
            (time + 1, point, time),
        )
        first = min((moment for count, moment in (hot, sealed) if count), default=None)
        return (hot[0] or 0) + (sealed[0] or 0), first

    def rows_by_hour(self, point: str, start: int, place: int) -> dict[int, int]:
        """How many readings a point has from `start` (a full hour) up to and with `place`, by hours since 1970.

        One statement, and so one moment: a reading that is sealed meanwhile is counted once. A sealed hour that reaches beyond
        the place isn't counted; it will be, once the place has passed it.
        """
        rows = self._database.rows(
            f"SELECT hour, sum(n) FROM (SELECT time / {HOUR} AS hour, count(*) AS n FROM reading"
            f" WHERE point = {_POINT} AND time >= ? AND time <= ? GROUP BY 1"
            f" UNION ALL SELECT hour / {HOUR}, count FROM sealed_hour"
            f" WHERE point = {_POINT} AND hour >= ? AND hour <= ? AND last_time <= ?) GROUP BY hour",
            (point, start, place, point, start, place, place),
        )
        return dict(rows)

    def close(self) -> None:
        self._database.close()
        self.store.close()
