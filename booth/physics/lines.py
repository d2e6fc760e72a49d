"""Readings joined by straight lines, broken where they lie too far apart, and integrals along them.

For pace, dwell and air volumes a quantity moves in a straight line between two readings that are no further apart
than `max_gap_us`. Across a longer silence, or beside a NaN, there is no line: nothing is integrated there, and the
caller is told how many seconds are missing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

_EDGES, _WEIGHTS = np.polynomial.legendre.leggauss(8)
# On 0 to 1. Eight points keep a rate that grows 100 000-fold along one line within 0.01 % (tested).
_NODES, _WEIGHTS = (_EDGES + 1) / 2, _WEIGHTS / 2


class Duration(NamedTuple):
    """Seconds for which something held, and the seconds of the span for which nothing is known."""

    seconds: float
    missing_s: float


@dataclass(frozen=True)
class Lines:
    """Straight lines in order of time, one array element each; times in seconds after `join`'s first reading."""

    reading: np.ndarray  # index of the reading before the line
    start_s: np.ndarray
    end_s: np.ndarray
    first: np.ndarray  # value at the start
    last: np.ndarray  # value at the end

    @property
    def seconds(self) -> np.ndarray:
        return self.end_s - self.start_s

    def value(self, share: npt.ArrayLike) -> np.ndarray:
        """Value at a share, 0 to 1, of each line."""
        return self.first + (self.last - self.first) * share

    def split_at(self, levels: Iterable[float]) -> Lines:
        """The same lines cut where they cross a level, so that none has a kink or a crossing inside."""
        lines = self
        for level in levels:
            lines = lines._split_at(level)
        return lines

    def _split_at(self, level: float) -> Lines:
        crossing = np.flatnonzero((self.first - level) * (self.last - level) < 0)
        if not crossing.size:
            return self
        before = self.only(crossing)
        cut = before.start_s + before.seconds * (level - before.first) / (before.last - before.first)
        ends, lasts = self.end_s.copy(), self.last.copy()
        ends[crossing], lasts[crossing] = cut, level
        halves = (
            Lines(self.reading, self.start_s, ends, self.first, lasts),
            Lines(before.reading, cut, before.end_s, np.full(cut.size, level), before.last),
        )
        columns = (np.concatenate([getattr(half, field.name) for half in halves]) for field in fields(Lines))
        joined = Lines(*columns)
        return joined.only(np.argsort(joined.start_s, kind="stable"))

    def only(self, which: np.ndarray) -> Lines:
        return Lines(*(getattr(self, field.name)[which] for field in fields(Lines)))

    def clip(self, start_s: float, end_s: float) -> Lines:
        """What lies between two moments, with values interpolated at the cuts."""
        inside = self.only((self.end_s > start_s) & (self.start_s < end_s))
        starts, ends = np.maximum(inside.start_s, start_s), np.minimum(inside.end_s, end_s)
        first = inside.value((starts - inside.start_s) / inside.seconds)
        last = inside.value((ends - inside.start_s) / inside.seconds)
        return Lines(inside.reading, starts, ends, first, last)

    def integral(self, rate: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        """∫ rate(value) dt of each line, by Gauss-Legendre; cut at the kinks of `rate` first (`split_at`)."""
        values = self.first[:, None] + (self.last - self.first)[:, None] * _NODES
        return self.seconds * (rate(values) @ _WEIGHTS)


def join(times_us: npt.ArrayLike, values: npt.ArrayLike, max_gap_us: int) -> Lines:
    """Lines between neighbouring readings; `times_us` must ascend. None where a reading is NaN or the gap too long."""
    times, values = np.asarray(times_us, np.int64), np.asarray(values, float)
    if times.shape != values.shape:
        raise ValueError(f"{times.size} times but {values.size} values: give one value for each time")
    steps = np.diff(times)
    if (steps <= 0).any():
        at = int(np.flatnonzero(steps <= 0)[0]) + 1
        raise ValueError(f"reading {at} is not later than the one before: sort the readings and drop duplicates")
    seconds = (times - times[:1]) / 1e6
    known = np.isfinite(values[:-1]) & np.isfinite(values[1:]) & (steps <= max_gap_us)
    every = Lines(np.arange(steps.size), seconds[:-1], seconds[1:], values[:-1], values[1:])
    return every.only(known)


def join_in_span(
    times_us: npt.ArrayLike, values: npt.ArrayLike, max_gap_us: int, start_us: int | None, end_us: int | None
) -> tuple[Lines, float]:
    """`join`, cut to [start, end), and the seconds of that span without a line.

    A bound that is None is the first or the last reading. A reading before the start counts: its line is cut.
    """
    lines, times = join(times_us, values, max_gap_us), np.asarray(times_us, np.int64)
    start, end = span_us(times, start_us, end_us)
    if times.size:
        lines = lines.clip((start - int(times[0])) / 1e6, (end - int(times[0])) / 1e6)
    return lines, max(0.0, (end - start) / 1e6 - float(lines.seconds.sum()))


def span_us(times_us: npt.ArrayLike, start_us: int | None, end_us: int | None) -> tuple[int, int]:
    """The span's bounds; missing ones are the first and the last reading's times (0 where there is no reading)."""
    times = np.asarray(times_us, np.int64)
    start = int(times[0]) if start_us is None and times.size else start_us or 0
    end = int(times[-1]) if end_us is None and times.size else start if end_us is None else end_us
    return start, max(start, end)


def first_at(moments: np.ndarray, values: np.ndarray, level: float) -> float | None:
    """When points joined by straight lines first are at or above a level; the first moment where they are from the beginning."""
    past = np.flatnonzero(values >= level)
    if not len(past):
        return None
    first = int(past[0])
    if first == 0:
        return float(moments[0])
    before, after = values[first - 1], values[first]
    return float(moments[first - 1] + (moments[first] - moments[first - 1]) * (level - before) / (after - before))


def seconds_at_or_above(
    times_us: npt.ArrayLike,
    values: npt.ArrayLike,
    threshold: float,
    max_gap_us: int,
    *,
    start_us: int | None = None,
    end_us: int | None = None,
) -> Duration:
    """How long the value was at or above the threshold, with crossings interpolated, and the seconds unknown.

    Counting samples instead is wrong by up to one sampling interval for each crossing.
    """
    lines, missing = join_in_span(times_us, values, max_gap_us, start_us, end_us)
    lines = lines.split_at([threshold])
    above = np.minimum(lines.first, lines.last) >= threshold
    return Duration(float(lines.seconds[above].sum()), missing)
