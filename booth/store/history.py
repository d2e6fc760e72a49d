"""Years at a glance: hourly summaries and gaps, opening as few chunks as can be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from booth.store.chunk import hour_of
from booth.store.database import Database
from booth.store.hot import ALWAYS, HotRows
from booth.store.sealed import SealedHours
from booth.store.summary import Summary, summarise, usable
from booth.times import DAY, HOUR

_COLUMNS = "hour, usable, low, mean, high, first, last"


@dataclass(frozen=True)
class Hourly:
    """Usable readings of each hour: `hours` int64 (its beginning), `count` int64, the others float64 in the unit used inside."""

    hours: np.ndarray
    count: np.ndarray
    low: np.ndarray
    mean: np.ndarray
    high: np.ndarray
    first: np.ndarray
    last: np.ndarray

    def __len__(self) -> int:
        return len(self.hours)


class History:
    """Questions about long times; `point` is a number of the table `point`. Ask inside a snapshot."""

    def __init__(self, database: Database, hot: HotRows, sealed: SealedHours) -> None:
        self._database, self._hot, self._sealed = database, hot, sealed

    def hourly(self, point: int | None, start: int, end: int) -> Hourly:
        """Summaries of the hours that begin in [start, end) and have usable readings."""
        rows = self._database.rows(
            f"SELECT {_COLUMNS} FROM sealed_hour WHERE point = ? AND hour >= ? AND hour < ? ORDER BY hour", (point, start, end)
        )
        fresh = {hour: self._summary(point, hour) for hour in self._hot_hours(point, start, end)}
        pruned = self._database.rows(
            f"SELECT {_COLUMNS} FROM pruned_hour WHERE point = ? AND hour >= ? AND hour < ? ORDER BY hour", (point, start, end)
        )
        if fresh or pruned:  # a late reading beside a chunk changes its hour; what came after deletion doesn't
            changed = {hour: (hour, *summary) for hour, summary in fresh.items()} | {row[0]: row for row in pruned}
            rows = sorted([row for row in rows if row[0] not in changed] + list(changed.values()), key=lambda row: row[0])
        rows = [row for row in rows if row[1]]
        columns = zip(*rows, strict=True) if rows else [()] * 7
        kinds = (np.int64, np.int64, *[np.float64] * 5)
        return Hourly(*(np.array(column, kind) for column, kind in zip(columns, kinds, strict=True)))

    def gaps(self, point: int | None, longer_than_us: int) -> list[tuple[int, int]]:
        """(before, after) of every gap that is longer."""
        stretches = [*self._sealed_stretches(point, longer_than_us), *self._pruned_stretches(point)]
        stretches += ((time, time) for time in self._hot.times(point).tolist())
        if not stretches:
            return []
        begins, ends = np.array(sorted(stretches), np.int64).T
        ends = np.maximum.accumulate(ends)
        at = np.flatnonzero(begins[1:] - ends[:-1] > longer_than_us)
        return list(zip(ends[at].tolist(), begins[at + 1].tolist(), strict=True))

    def days(self, points: Iterable[int]) -> int:
        found = {hour // DAY for (hour,) in self._database.rows("SELECT DISTINCT hour FROM sealed_hour")}
        return len(found | {hour // DAY for point in points for hour in self._hot_hours(point, -ALWAYS, ALWAYS)})

    def waiting(self, point: int | None, time: int) -> tuple[int, int | None]:
        """How many are newer than a time, and when the oldest of them was taken; a sealed hour counts as a whole."""
        hot = self._database.row("SELECT count(*), min(time) FROM reading WHERE point = ? AND time > ?", (point, time))
        sealed = self._database.row(
            "SELECT sum(count), max(min(first_time), ?) FROM sealed_hour WHERE point = ? AND last_time > ?",
            (time + 1, point, time),
        )
        first = min((moment for count, moment in (hot, sealed) if count), default=None)
        return (hot[0] or 0) + (sealed[0] or 0), first

    def counts_by_hour(self, point: int | None, start: int, last: int) -> dict[int, int]:
        """Readings from `start` (a full hour) up to and with `last`, by hours since 1970.

        One statement, and so one moment: a reading that is sealed meanwhile is counted once.
        """
        rows = self._database.rows(
            f"SELECT hour, sum(n) FROM (SELECT time / {HOUR} AS hour, count(*) AS n FROM reading"
            " WHERE point = ? AND time >= ? AND time <= ? GROUP BY 1"
            f" UNION ALL SELECT hour / {HOUR}, count FROM sealed_hour"
            " WHERE point = ? AND hour >= ? AND hour <= ? AND last_time <= ?) GROUP BY hour",
            (point, start, last, point, start, last, last),
        )
        return dict(rows)

    def _pruned_stretches(self, point: int | None) -> list[tuple[int, int]]:
        """Where there were readings until they were deleted: no gap; one inside an hour is forgotten."""
        return self._database.rows("SELECT first_time, last_time FROM pruned_hour WHERE point = ?", (point,))

    def _hot_hours(self, point: int | None, start: int, end: int) -> Iterator[int]:
        """Hours that begin in [start, end) and have hot rows; leaps from one to the next."""
        begin, past = -(-start // HOUR) * HOUR, min(ALWAYS, -(-end // HOUR) * HOUR)
        while (time := self._hot.first_time(point, begin, past)) is not None:
            yield hour_of(time)
            begin = hour_of(time) + HOUR

    def _summary(self, point: int | None, hour: int) -> Summary:
        """Of an hour that has hot rows, together with its chunk, if it has one."""
        parts = [self._hot.columns(point, hour, hour + HOUR, ALWAYS)]
        parts += [chunk.columns(hour, hour + HOUR, ALWAYS) for chunk in self._sealed.chunks(point, hour, hour + 1)]
        times, values, good = (np.concatenate(columns) for columns in zip(*parts, strict=True))
        order = np.argsort(times, kind="stable")
        return summarise(values[order][usable(times[order], good[order])])

    def _sealed_stretches(self, point: int | None, longer_than_us: int) -> Iterator[tuple[int, int]]:
        """Stretches without such a gap inside: mostly whole hours; a chunk with a gap in it is opened."""
        for hour, first, last, longest in self._database.rows(
            "SELECT hour, first_time, last_time, longest_gap FROM sealed_hour WHERE point = ?", (point,)
        ):
            chunk = self._sealed.chunk(point, hour) if point is not None and longest > longer_than_us else None
            if chunk is None:
                yield first, last
            else:
                yield from ((time, time) for time in chunk.times.tolist())
