"""The readings that live judging needs, in memory: the same answers as the store, without asking it forty times a second."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from booth.judge.series import Series
from booth.store import Reading
from booth.store.readings import Readings
from booth.times import HOUR

KEPT_US = 30 * HOUR  # a shift, the night after it, and the shift before


class LiveReadings:
    """A window onto the newest readings of every point. What is older is read from the store."""

    def __init__(self, store: Readings, since: int) -> None:
        self._store, self._since = store, since
        self._points: dict[str, _Column] = {}

    def add(self, readings: Iterable[Reading]) -> int | None:
        """Take what was just committed; returns the earliest time that came out of order, None if all came in order."""
        late = None
        known = set(self._points)  # a column that is opened now comes out of the store with this batch in it
        for reading in readings:
            if reading.point not in known or reading.quality != "good" or reading.time < self._since:
                continue
            if self._points[reading.point].add(reading.time, reading.value):
                late = reading.time if late is None else min(late, reading.time)
        return late

    def evidence(self, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        """As `booth.store.readings.Readings.evidence`."""
        if known_by is not None or start - max_age_us < self._since:
            return self._store.evidence(point, start, end, max_age_us, known_by)
        times, values = self._column(point).arrays()
        first, past = np.searchsorted(times, (start, end), side="left")
        if first > 0 and start - times[first - 1] <= max_age_us:
            first -= 1
        return Series(times[first:past], values[first:past], max_age_us)

    def latest(self, point: str) -> tuple[int, float] | None:
        """Time and value of the newest good reading."""
        times, values = self._column(point).arrays()
        return (int(times[-1]), float(values[-1])) if len(times) else None

    def forget_before(self, us: int) -> None:
        """Drop what is too old to be judged live, so that memory stays level."""
        self._since = max(self._since, us)
        for column in self._points.values():
            column.forget_before(us)

    def _column(self, point: str) -> _Column:
        column = self._points.get(point)
        if column is None:
            known = self._store.evidence(point, self._since, 2**62, 0)
            column = self._points[point] = _Column(known.times, known.values)
        return column


class _Column:
    """One point's readings in time order. A time with two values is a conflict: it tells nothing, whatever comes later."""

    def __init__(self, times: np.ndarray, values: np.ndarray) -> None:
        self._count = len(times)
        size = max(1024, 2 * self._count)
        self._times, self._values = np.empty(size, np.int64), np.empty(size, np.float64)
        self._times[: self._count], self._values[: self._count] = times, values
        self._conflicts: set[int] = set()

    def arrays(self) -> tuple[np.ndarray, np.ndarray]:
        return self._times[: self._count], self._values[: self._count]

    def add(self, time: int, value: float) -> bool:
        """True where it came out of order or changed what was known."""
        if self._count and time <= self._times[self._count - 1]:
            return self._insert(time, value)
        if time in self._conflicts:
            return False
        if self._count == len(self._times):
            self._grow()
        self._times[self._count], self._values[self._count] = time, value
        self._count += 1
        return False

    def _insert(self, time: int, value: float) -> bool:
        times, values = self.arrays()
        at = int(np.searchsorted(times, time))
        if at < self._count and times[at] == time:
            if values[at] == value:
                return False
            self._conflicts.add(time)
            self._replace(np.delete(times, at), np.delete(values, at))
        elif time in self._conflicts:
            return False
        else:
            self._replace(np.insert(times, at, time), np.insert(values, at, value))
        return True

    def _replace(self, times: np.ndarray, values: np.ndarray) -> None:
        self._count = len(times)
        if self._count > len(self._times):
            self._grow()
        self._times[: self._count], self._values[: self._count] = times, values

    def _grow(self) -> None:
        self._times = np.concatenate((self._times, np.empty(len(self._times), np.int64)))
        self._values = np.concatenate((self._values, np.empty(len(self._values), np.float64)))

    def forget_before(self, us: int) -> None:
        times, values = self.arrays()
        first = int(np.searchsorted(times, us))
        if first:
            self._replace(times[first:].copy(), values[first:].copy())
        self._conflicts = {time for time in self._conflicts if time >= us}
