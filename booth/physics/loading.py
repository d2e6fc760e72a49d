"""A filter fills up: a straight line through its pressure drop, and when it meets the change-out drop, with an interval.

Points scatter about the line in two ways. The gauge's own scatter is new at each point; dust isn't: what one windy week brought
stays in the filter. So the drop is a line, a random walk along it, and noise (universal kriging with a linear variogram and a
nugget: Matheron 1969; Cressie, Statistics for Spatial Data, 3.4; without a walk it is ordinary least squares, NIST/SEMATECH
e-Handbook 4.1.4.1 and 2.3.6). The crossing is where the band about the foretold drop meets the level, not where the line does. A
drop depends on the flow: give it readings of one mode, or bring them to one flow first (`at_flow`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from booth.physics.decision import COVERAGE_FACTOR
from booth.physics.elementwise import Values, elementwise
from booth.physics.lines import first_at

FEWEST = 4
"""With fewer points the scatter about the line says nothing about it."""

WALKS = (0.0, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 100.0)
"""Variance of the walk over the mean step between two points, in variances of the noise: those that are weighed."""

BENDS = 0.1
"""Standard error of the rise ahead, as a share of it: it isn't straight, for a loaded filter lets less air, and dust, through."""

AHEAD = 8.0
"""Spans of the points ahead in which the crossing is looked for."""

STEPS = 4000


@elementwise
def at_flow(drop_pa: Values, flow: Values, reference_flow: Values, exponent: Values) -> Values:
    """The drop that the same filter would have at another flow: Δp (Q0/Q)^n, n between 1 (fibres, laminar) and 2 (turbulent)."""
    return np.where(flow > 0, drop_pa * (reference_flow / flow) ** exponent, np.nan)


@dataclass(frozen=True)
class ChangeOut:
    """The moment at which the drop meets the level and the interval about it, in the unit of the times.

    `slope` is by unit of time with its expanded uncertainty. None of the three moments where no rise stands out of the scatter;
    any of them alone is None where it lies further ahead than `AHEAD` spans of the points.
    """

    slope: float
    slope_uncertainty: float
    points: int
    expected: float | None
    earliest: float | None
    latest: float | None


def change_out(
    times: npt.ArrayLike, drops_pa: npt.ArrayLike, level_pa: float, *, walks: Sequence[float] = WALKS, bends: float = BENDS
) -> ChangeOut | None:
    """When the drop meets the change-out level. None with too few points, or all at one time. NaN points are left out.

    A level that is met already is met at the last point. Nobody knows how much of the scatter stays: each of the `walks` is
    tried, and weighed by its likelihood.
    """
    t, y = np.asarray(times, float), np.asarray(drops_pa, float)
    known = np.isfinite(t) & np.isfinite(y)
    t, y = t[known], y[known]
    if len(t) < FEWEST or np.ptp(t) == 0:
        return None
    lines = [_fitted(t, y, walk / float(np.mean(np.diff(t)))) for walk in walks]
    weights = np.exp([line.likelihood - max(one.likelihood for one in lines) for line in lines])
    weights /= weights.sum()
    k = _coverage_factor(len(t) - 2)
    slope, error = _mixed(weights, [line.coefficients[1] for line in lines], [line.covariance[1, 1] for line in lines])
    if slope <= k * error:
        return ChangeOut(float(slope), float(k * error), len(t), None, None, None)
    ahead = t[-1] + np.linspace(0.0, AHEAD, STEPS) * np.ptp(t)
    drop, error_ahead = _mixed(weights, *zip(*(line.foretold(ahead) for line in lines), strict=True))
    band = np.hypot(k * error_ahead, COVERAGE_FACTOR * bends * slope * (ahead - t[-1]))
    moments = (first_at(ahead, one, level_pa) for one in (drop, drop + band, drop - band))
    return ChangeOut(float(slope), float(k * error), len(t), *moments)


def _mixed(weights: np.ndarray, means: Sequence[npt.ArrayLike], variances: Sequence[npt.ArrayLike]) -> tuple[Any, Any]:
    """Mean and standard deviation of what has one of several distributions."""
    mean = np.tensordot(weights, np.array(means), 1)
    return mean, np.sqrt(np.maximum(np.tensordot(weights, np.array(variances) + np.array(means) ** 2, 1) - mean**2, 0.0))


@dataclass(frozen=True)
class _Line:
    """Generalised least squares: (level at the first point, slope) with their covariance; the walk's variance by unit of time."""

    times: np.ndarray
    coefficients: np.ndarray
    covariance: np.ndarray
    walk: float
    likelihood: float
    residuals: np.ndarray
    inverse: np.ndarray  # of the points' covariance

    def foretold(self, ahead: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The drop after the last point, and its variance."""
        since = self.times - self.times[0]
        later = ahead - self.times[0]
        design = np.column_stack((np.ones_like(later), later))
        shared = self.walk * since  # of each point with every later moment
        pull = self.inverse @ shared
        mean = design @ self.coefficients + pull @ self.residuals
        own = np.column_stack((np.ones_like(since), since))
        rest = design - pull @ own
        variance = self.walk * later - shared @ pull + np.einsum("ij,jk,ik->i", rest, self.covariance, rest)
        return mean, variance


def _fitted(t: np.ndarray, y: np.ndarray, ratio: float) -> _Line:
    """For a walk of so many variances of the noise by unit of time; the noise itself by restricted maximum likelihood."""
    since = t - t[0]
    shape = np.eye(len(t)) + ratio * np.minimum.outer(since, since)
    inverse = np.linalg.inv(shape)
    design = np.column_stack((np.ones_like(since), since))
    information = design.T @ inverse @ design
    spread = np.linalg.inv(information)
    coefficients = spread @ design.T @ inverse @ y
    residuals = y - design @ coefficients
    free = len(t) - 2
    noise = float(residuals @ inverse @ residuals) / free
    logs = np.linalg.slogdet(shape)[1] + np.linalg.slogdet(information)[1]
    likelihood = -0.5 * (free * math.log(max(noise, 1e-12)) + logs)
    inverse = inverse / noise if noise else np.zeros_like(inverse)
    return _Line(t, coefficients, spread * noise, ratio * noise, likelihood, residuals, inverse)


def _coverage_factor(freedom: int) -> float:
    """Student's k for the share that 2 covers of a normal distribution (Abramowitz and Stegun 26.7.5): few points know less."""
    z = COVERAGE_FACTOR
    return z + (z**3 + z) / (4 * freedom) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * freedom**2)
