"""Jumping and out of range: single readings that can't be, and the time until the instrument has been quiet again for a while.

What comes between two impossible readings is not believed either: a loose wire makes contact now and then.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from booth.judge.health.spans import Span


def jumps(times: np.ndarray, values: np.ndarray, most: float, apart_us: int) -> np.ndarray:
    """Times of the readings that differ by more than `most` from the one before, no more than `apart_us` earlier."""
    far = np.abs(np.diff(values)) > most
    return times[1:][far & (np.diff(times) <= apart_us)]


def bursts(impossible: np.ndarray, settle_us: int, as_of: int) -> Iterator[Span]:
    """From the first impossible reading until `settle_us` after the last; one burst where the next comes before that."""
    if not len(impossible):
        return
    breaks = np.flatnonzero(np.diff(impossible) > settle_us)
    firsts, lasts = np.append(0, breaks + 1), np.append(breaks, len(impossible) - 1)
    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
        start, end = int(impossible[first]), int(impossible[last]) + settle_us
        yield Span(start, end if end <= as_of else None, start)
