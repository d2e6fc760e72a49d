"""Is a measured value inside a limit, outside it, or too close to tell?

Sources: JCGM 106:2012 (conformity assessment), ISO 14253-1 (guard bands by expanded uncertainty), ILAC-G8:09/2019, 4.2.
A guard band as wide as the expanded uncertainty U (k = 2) keeps the risk of a wrong acceptance below 2.5 %; without
one (U = 0, simple acceptance) it is up to 50 %, at the limit itself. We say "guard_band" on *either* side of the limit,
where ILAC-G8, 4.2.3, distinguishes conditional pass and conditional fail: both are unproven.

The functions ask nothing about units: value, limit and uncertainty share one.
"""

from __future__ import annotations

import math
from typing import Any, Literal

import numpy as np

from booth.physics.elementwise import Values, plain

Side = Literal["minimum", "maximum"]
Position = Literal["inside", "guard_band", "outside"]


COVERAGE_FACTOR = 2.0
"""k = 2, about 95 %: the factor of every expanded uncertainty here (JCGM 100:2008)."""

CERTAIN = math.erfc(-math.sqrt(2)) / 2
"""Phi(2) = 0.97725: the probability of conformity at a guard band as wide as U (k = 2)."""


def simple(value: float, limit: float, side: Side) -> Position:
    """Simple acceptance: at the limit is inside. Never "guard_band"."""
    return guarded(value, limit, 0.0, side)


def guarded(value: float, limit: float, expanded_uncertainty: float, side: Side) -> Position:
    """Guarded acceptance and rejection for a limit that is a "minimum" or a "maximum" of the value.

    Inside up to limit - U (of a maximum), outside beyond limit + U, guard band between. ValueError for a value that
    isn't a number and for a negative uncertainty: neither may turn into a verdict.
    """
    if math.isnan(value) or math.isnan(limit) or not expanded_uncertainty >= 0:
        raise ValueError(f"cannot judge {value} against {limit} with uncertainty {expanded_uncertainty}")
    if side not in ("minimum", "maximum"):
        raise ValueError(f'side {side!r} is unknown: write "minimum" or "maximum"')
    low, high = (limit, None) if side == "minimum" else (None, limit)
    if certainly_beyond(value, low, high, expanded_uncertainty):
        return "outside"
    return "guard_band" if possibly_beyond(value, low, high, expanded_uncertainty) else "inside"


def certainly_beyond(values: Values, low: float | None, high: float | None, expanded_uncertainty: Values) -> Any:
    """Where the value is below `low` - U or above `high` + U; None is no limit. NaN is never certain."""
    values, u = np.asarray(values, float), np.asarray(expanded_uncertainty, float)
    below, above = _bounds(low, high)
    return (values < below - u) | (values > above + u)


def possibly_beyond(values: Values, low: float | None, high: float | None, expanded_uncertainty: Values) -> Any:
    """Where the value is not at least U inside both limits; NaN, of value or uncertainty, always is."""
    values, u = np.asarray(values, float), np.asarray(expanded_uncertainty, float)
    below, above = _bounds(low, high)
    return ~((values >= below + u) & (values <= above - u))


def conformity_probability(values: Values, low: float | None, high: float | None, standard_uncertainty: Values) -> Any:
    """Probability that the true value lies within the limits: JCGM 106:2012, 7.2 to 7.4, normal distribution.

    Phi((high - y)/u) - Phi((low - y)/u) with the *standard* uncertainty u (U = 2 u), which must be above zero.
    """
    values, u = np.asarray(values, float), np.asarray(standard_uncertainty, float)
    if not (u > 0).all():
        raise ValueError("the standard uncertainty must be above zero")
    below, above = _bounds(low, high)
    return plain(_normal((above - values) / u) - _normal((below - values) / u))


def _bounds(low: float | None, high: float | None) -> tuple[float, float]:
    return -math.inf if low is None else low, math.inf if high is None else high


def _normal(z: np.ndarray) -> np.ndarray:
    """The standard normal distribution function; erfc keeps its digits in the lower tail."""
    return np.vectorize(lambda one: math.erfc(-one / math.sqrt(2)) / 2, otypes=[float])(z)
