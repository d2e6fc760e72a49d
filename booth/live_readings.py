"""The readings that live judging needs, in memory: the same answers as the store, without asking it forty times a second."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from booth.judge.series import Series
from booth.store import Reading, StoreError
from booth.store.readings import Readings
from booth.times import HOUR, MINUTE

KEPT_US = 30 * MINUTE  # of every point; of one that an open step rests on, as far back as the step goes
MOST_US = 240 * HOUR  # of a point that is asked about further back: a flash-off that was left open over a long weekend
FORGET_EVERY_US = 5 * MINUTE


class LiveReadings:
    """A window onto the newest readings of every point, wider where a span that goes on began earlier.

    A point's column reaches back to the oldest span asked for, for as long as it is asked for, and MOST_US at most. What is older
    than that is read from the store.
    """

    def __init__(self, store: Readings, since: int) -> None:
        self._store, self._since = store, since
        self._points: dict[str, _Column] = {}

    def add(self, readings: Iterable[Reading]) -> int | None:
        """Take what was just committed; returns the earliest time in it, None where there is nothing."""
        known = list(readings)
        try:
            self._take(known)
        except StoreError:  # the columns are read anew when the disk answers again
            self._points.clear()
        return min((reading.time for reading in known), default=None)

    def evidence(self, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        """As `booth.store.readings.Readings.evidence`."""
        first_wanted = start - max_age_us
        if known_by is not None or first_wanted < self._since + KEPT_US - MOST_US:
            return self._store.evidence(point, start, end, max_age_us, known_by)
        times, values = self._column(point, first_wanted).arrays()
        first, past = np.searchsorted(times, (start, end), side="left")
        if first > 0 and start - times[first - 1] <= max_age_us:
            first -= 1
        return Series(times[first:past], values[first:past], max_age_us)

    def latest(self, point: str) -> tuple[int, float] | None:
        """Time and value of the newest good reading."""
        times, values = self._column(point).arrays()
        return (int(times[-1]), float(values[-1])) if len(times) else None

    def forget_before(self, us: int) -> None:
        """Drop what is too old to be judged live and wasn't asked for since the last time, so that memory stays level."""
        if us - self._since > FORGET_EVERY_US:
            self._since = us
            for column in self._points.values():
                column.forget_before(max(us + KEPT_US - MOST_US, min(us, column.wanted)))
                column.wanted = us

    def _take(self, readings: list[Reading]) -> None:
        for reading in readings:
            column = self._points.get(reading.point)  # one that is opened later comes out of the store with this batch in it
            if column is not None and reading.time >= column.since and not column.follows(reading):
                column.put(reading.time, self._store.evidence(reading.point, reading.time, reading.time + 1, 0))

    def _column(self, point: str, first_wanted: int | None = None) -> _Column:
        """The point's column, reaching back at least as far as this."""
        since = self._since if first_wanted is None else min(first_wanted, self._since)
        column = self._points.get(point)
        if column is None:
            known = self._store.evidence(point, since, 2**62, 0)
            newest = self._store.latest(point)
            column = self._points[point] = _Column(since, known.times, known.values, newest.time if newest else -(2**62))
        elif since < column.since:
            column.reach_back(since, self._store.evidence(point, since, column.since, 0))
        column.wanted = min(column.wanted, since)
        return column


class _Column:
    """One point's usable readings from `since` on, in time order. `newest` is the newest time of any reading, usable or not.

    `wanted`: the earliest moment that was asked for lately.
    """

    def __init__(self, since: int, times: np.ndarray, values: np.ndarray, newest: int) -> None:
        self.since = self.wanted = since
        self._count, self._newest = len(times), newest
        size = max(1024, 2 * self._count)
        self._times, self._values = np.empty(size, np.int64), np.empty(size, np.float64)
        self._times[: self._count], self._values[: self._count] = times, values

    def arrays(self) -> tuple[np.ndarray, np.ndarray]:
        return self._times[: self._count], self._values[: self._count]

    def follows(self, reading: Reading) -> bool:
        """Take a reading that is newer than all others; False, and nothing taken, where it isn't."""
        if reading.time <= self._newest:
            return False
        self._newest = reading.time
        if reading.quality == "good":
            if self._count == len(self._times):
                self._grow()
            self._times[self._count], self._values[self._count] = reading.time, reading.value
            self._count += 1
        return True

    def put(self, time: int, known: Series) -> None:
        """What the store makes of a time that was told of again or late: a value, or nothing where it is contradicted."""
        times, values = self.arrays()
        at = int(np.searchsorted(times, time))
        past = at + int(at < self._count and times[at] == time)
        if not np.array_equal(values[at:past], known.values):
            times, values = (
                np.concatenate((old[:at], new, old[past:])) for old, new in ((times, known.times), (values, known.values))
            )
            self._replace(times, values)

    def reach_back(self, since: int, older: Series) -> None:
        """Put what the store has from `since` up to where the column began before it."""
        times, values = self.arrays()
        self._replace(np.concatenate((older.times, times)), np.concatenate((older.values, values)))
        self.since = since

    def _replace(self, times: np.ndarray, values: np.ndarray) -> None:
        self._count = len(times)
        while self._count > len(self._times):
            self._grow()
        self._times[: self._count], self._values[: self._count] = times, values

    def _grow(self) -> None:
        self._times = np.concatenate((self._times, np.empty(len(self._times), np.int64)))
        self._values = np.concatenate((self._values, np.empty(len(self._values), np.float64)))

    def forget_before(self, us: int) -> None:
        times, values = self.arrays()
        first = int(np.searchsorted(times, us))
        self._replace(times[first:].copy(), values[first:].copy())
        self.since = max(us, self.since)
