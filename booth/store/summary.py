"""What an hour's readings of one point amount to, and which of them may be used at all. Pure."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np


class Summary(NamedTuple):
    """Of usable readings: how many, least, mean, greatest, first and last value in the unit used inside; None if there are none.

    The mean is over the readings, not over time.
    """

    usable: int
    low: float | None
    mean: float | None
    high: float | None
    first: float | None
    last: float | None


def usable(times: np.ndarray, good: np.ndarray) -> np.ndarray:
    """Which readings may be used, given all of a stretch by time: good ones at whose time there is no other."""
    same_as_next = times[1:] == times[:-1]
    found = good.copy()
    found[1:] &= ~same_as_next
    found[:-1] &= ~same_as_next
    return found


def summarise(values: np.ndarray) -> Summary:
    """The summary of usable values in the order of their times. The sum is exact, so that every machine finds the same mean."""
    if not len(values):
        return Summary(0, None, None, None, None, None)
    return Summary(len(values), float(values.min()), mean(values), float(values.max()), float(values[0]), float(values[-1]))


def mean(values: np.ndarray) -> float:
    try:
        return math.fsum(values) / len(values)
    except OverflowError:  # the sum is beyond a float, the mean isn't
        return math.fsum(value / len(values) for value in values.tolist())
