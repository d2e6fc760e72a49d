"""Clock off: an instrument whose readings come with times that are steadily ahead of their arrival, or behind it.

A message may be slow for many reasons and fast for none, so of each minute the smallest difference between arrival and the
instrument's time counts (the minimum-delay filter of network time, RFC 5905 section 10). A queue that drains gives differences
that fall from minute to minute: only a steady one is a clock. Nothing is ever restamped; the estimate is told.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from booth.judge.health.spans import Span
from booth.judge.track import runs
from booth.times import MINUTE

STEADY_US = MINUTE // 2
"""What is called steady: a file that is read at one go gives differences that fall by a minute from minute to minute."""


def clock_off(minutes: np.ndarray, offsets: np.ndarray, tolerance_us: int, after_us: int, as_of: int) -> Iterator[Span]:
    """From the first full minute of a steady offset beyond the tolerance until the first that isn't, over `after_us` or longer.

    `minutes`: when each minute with readings began, ascending, all of them over by `as_of`; `offsets`: the smallest arrival less
    instrument time in each, microseconds (negative: the clock is ahead).
    """
    off = np.abs(offsets) > tolerance_us
    for begin, past in runs(off):
        for first, end in _steady(offsets, begin, past):
            start, until = int(minutes[first]), int(minutes[end - 1]) + MINUTE
            if until - start >= after_us:
                over = end < len(minutes)
                yield Span(start, int(minutes[end]) if over else None, start + after_us, int(np.median(offsets[first:end])))


def _steady(offsets: np.ndarray, begin: int, past: int) -> Iterator[tuple[int, int]]:
    """Runs within [begin, past) in which no minute differs from the one before by more than what is called steady."""
    breaks = np.flatnonzero(np.abs(np.diff(offsets[begin:past])) > STEADY_US) + begin + 1
    edges = [begin, *breaks.tolist(), past]
    yield from zip(edges[:-1], edges[1:], strict=True)
