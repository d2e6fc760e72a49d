"""A filter fills up: the straight line through its pressure drop, and when it meets the change-out drop, with an interval.

Ordinary least squares and its inverse prediction (NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1 and 2.3.6; Fieller's
interval for the crossing): the crossing is where the confidence band of the line meets the level, not where the line does. A
drop depends on the flow: give it readings of one mode, or bring them to one flow first (`at_flow`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from booth.physics.decision import COVERAGE_FACTOR
from booth.physics.elementwise import Values, elementwise

FEWEST = 4
"""With fewer points the scatter about the line says nothing about it."""


@elementwise
def at_flow(drop_pa: Values, flow: Values, reference_flow: Values, exponent: Values) -> Values:
    """The drop that the same filter would have at another flow: Δp (Q0/Q)^n, n between 1 (fibres, laminar) and 2 (turbulent)."""
    return np.where(flow > 0, drop_pa * (reference_flow / flow) ** exponent, np.nan)


@dataclass(frozen=True)
class ChangeOut:
    """The moment at which the line meets the level and the interval about it, in the unit of the times.

    `slope` is by unit of time with its expanded uncertainty. None of the three moments where no rise stands out of the scatter.
    """

    slope: float
    slope_uncertainty: float
    points: int
    expected: float | None
    earliest: float | None
    latest: float | None


def change_out(times: npt.ArrayLike, drops_pa: npt.ArrayLike, level_pa: float) -> ChangeOut | None:
    """When the drop meets the change-out level. None with too few points, or all at one time. NaN points are left out."""
    t, y = np.asarray(times, float), np.asarray(drops_pa, float)
    known = np.isfinite(t) & np.isfinite(y)
    t, y = t[known], y[known]
    if len(t) < FEWEST or np.ptp(t) == 0:
        return None
    middle, mean = t.mean(), y.mean()
    spread = float(((t - middle) ** 2).sum())
    slope = float(((t - middle) * (y - mean)).sum() / spread)
    variance = float(((y - mean - slope * (t - middle)) ** 2).sum() / (len(t) - 2))
    uncertainty = COVERAGE_FACTOR * math.sqrt(variance / spread)
    if slope <= uncertainty:
        return ChangeOut(slope, uncertainty, len(t), None, None, None)
    rise = level_pa - mean
    # Both solutions x, from the middle of the times, of (rise - slope x)² = k² s² (1/n + x²/spread).
    a, b, c = slope**2 - uncertainty**2, rise * slope, rise**2 - COVERAGE_FACTOR**2 * variance / len(t)
    root = math.sqrt(max(b * b - a * c, 0.0))
    return ChangeOut(slope, uncertainty, len(t), *(middle + x for x in (rise / slope, (b - root) / a, (b + root) / a)))
