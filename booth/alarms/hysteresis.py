"""Deadband: a value must come back some way inside its limit before its condition counts as gone (ISA-18.2)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def with_deadband(values: ArrayLike, *, high: float | None = None, low: float | None = None, deadband: float) -> list[int]:
    """Indices at which the condition is set, cleared, set, … in turn; it starts cleared.

    One limit: `high` sets at or above it and clears below `high - deadband`; `low` sets at or below it and clears above
    `low + deadband`. All in the unit of `values`. NaN leaves things as they are: silence never clears. ValueError for
    none or two limits, or a negative deadband.
    """
    if (high is None) == (low is None):
        raise ValueError("give one limit: high or low")
    if not deadband >= 0:
        raise ValueError(f"the deadband must not be negative, it is {deadband}")
    values = np.asarray(values, np.float64)
    if high is not None:
        sets, clears = values >= high, values < high - deadband
    else:
        sets, clears = values <= low, values > low + deadband
    # Inside the deadband each sample repeats the last decisive one.
    decisive = np.where(sets | clears, np.arange(1, len(values) + 1), 0)
    last = np.maximum.accumulate(decisive)
    present = np.concatenate(([False], sets))[last]
    return np.flatnonzero(np.diff(present, prepend=False)).tolist()
