"""How much the readings of one instrument scatter, told from the readings themselves (a Type A evaluation, GUM 4.2)."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt


def scatter(times_us: npt.ArrayLike, values: npt.ArrayLike, max_gap_us: int) -> float:
    """Standard deviation of a single reading about a curve that is straight over three readings; 0 for fewer.

    Of three readings evenly spaced the second difference x0 - 2 x1 + x2 has no drift left in it, and six times the variance of
    one reading. (With first differences this is von Neumann's mean square successive difference, of 1941; the second ones let a
    part warm up meanwhile.)
    """
    times, values = np.asarray(times_us, np.int64), np.asarray(values, float)
    if len(values) < 3:
        return 0.0
    steps = np.diff(times)
    even = (np.abs(steps[1:] - steps[:-1]) <= 0.1 * steps[1:]) & (steps[1:] <= max_gap_us)
    seconds = np.diff(values, 2)[even]
    return float(np.sqrt(np.mean(seconds**2) / 6)) if len(seconds) else 0.0
