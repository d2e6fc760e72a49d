"""A quantity over a span as pieces that hold, with the gaps where nothing is known.

For limits and coverage a reading holds until the next one or its `max_age`. Several tracks combine into a derived quantity that
changes where any of them does. NaN is a gap; nothing is ever filled in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from booth.judge.series import Series


@dataclass(frozen=True)
class Track:
    """Contiguous pieces of [edges[0], edges[-1]): piece i is [edges[i], edges[i+1]) with values[i], NaN where unknown."""

    edges: np.ndarray  # int64 microseconds, n + 1
    values: np.ndarray  # float64, n

    @property
    def lengths(self) -> np.ndarray:
        """Length of each piece in microseconds."""
        return np.diff(self.edges)


@dataclass(frozen=True)
class Stretch:
    """A contiguous stretch of time, with the value farthest beyond the limit where it is an excursion."""

    start: int
    end: int
    worst: float | None = None

    @property
    def length(self) -> int:
        return self.end - self.start


def hold(series: Series, start: int, end: int) -> Track:
    """The series over [start, end): each reading until the next one, or until it is too old to speak."""
    if end <= start:
        return Track(np.array([start], np.int64), np.empty(0))
    moments, values = _turns(series)
    first = int(np.searchsorted(moments, start, side="right")) - 1
    past = int(np.searchsorted(moments, end))
    edges, values = np.append(moments[max(0, first) : past], end), values[max(0, first) : past]
    if first < 0:
        return Track(np.append(start, edges), np.append(np.nan, values))
    edges[0] = start
    return Track(edges, values)


def _turns(series: Series) -> tuple[np.ndarray, np.ndarray]:
    """Moments at which the series takes a value, or is too old to have one (NaN), in order."""
    expiries = series.times + series.max_age_us
    # An expiry matters only where no newer reading has replaced the old one before it.
    silent = np.append(expiries[:-1] < series.times[1:], True)[: len(series)]
    if np.count_nonzero(silent) <= 1:
        return np.append(series.times, expiries[-1:]), np.append(series.values, np.full(len(expiries[-1:]), np.nan))
    moments = np.concatenate((series.times, expiries[silent]))
    values = np.concatenate((series.values, np.full(np.count_nonzero(silent), np.nan)))
    order = np.argsort(moments, kind="stable")
    return moments[order], values[order]


def align(tracks: Sequence[Track]) -> tuple[np.ndarray, list[np.ndarray]]:
    """Edges at which any of some tracks over the same span changes, and the value of each in every piece between them."""
    if len(tracks) == 1:
        return tracks[0].edges, [tracks[0].values]
    edges = np.sort(np.concatenate([track.edges for track in tracks]))
    edges = edges[np.append(True, edges[1:] != edges[:-1])]  # ten times as fast as numpy.unique, which hashes integers
    return edges, [_spread(track, edges) for track in tracks]


def _spread(track: Track, edges: np.ndarray) -> np.ndarray:
    if len(track.edges) == len(edges):
        return track.values
    return np.repeat(track.values, np.diff(np.searchsorted(edges, track.edges)))


def derived(derive: Callable[..., np.ndarray], *tracks: Track) -> Track:
    """A quantity derived from several tracks over the same span."""
    edges, values = align(tracks)
    return Track(edges, np.asarray(derive(*values), np.float64))


def combine(derive: Callable[..., np.ndarray], inputs: Sequence[Series], start: int, end: int) -> Track:
    """A quantity derived from several series over [start, end); NaN comes out where `derive` makes it of a NaN."""
    return derived(derive, *(hold(series, start, end) for series in inputs))


def runs(where: np.ndarray) -> list[tuple[int, int]]:
    """Index pairs (first, past last) of the contiguous runs in which a mask is true."""
    padded = np.concatenate(([False], where, [False])).astype(np.int8)
    turns = np.flatnonzero(np.diff(padded))
    return list(zip(turns[::2].tolist(), turns[1::2].tolist(), strict=True))


def stretches(edges: np.ndarray, where: np.ndarray) -> list[Stretch]:
    """The contiguous stretches of pieces in which a mask is true."""
    return [Stretch(int(edges[first]), int(edges[past])) for first, past in runs(where)]


def excursions(track: Track, beyond: np.ndarray, excess: np.ndarray) -> list[Stretch]:
    """Contiguous time beyond the limit, never joined across gaps; `excess` says how far beyond each piece is."""
    found = []
    for first, past in runs(beyond & ~np.isnan(track.values)):
        worst = first + int(np.argmax(excess[first:past]))
        found.append(Stretch(int(track.edges[first]), int(track.edges[past]), float(track.values[worst])))
    return found


def longest_gap_us(track: Track) -> int:
    """The longest stretch in which nothing is known."""
    return max((gap.length for gap in stretches(track.edges, np.isnan(track.values))), default=0)


def coverage(track: Track) -> float:
    """Share of the span in which the quantity is known; 0 for an empty span."""
    total = int(track.edges[-1] - track.edges[0])
    known = int(track.lengths[~np.isnan(track.values)].sum())
    return known / total if total else 0.0
