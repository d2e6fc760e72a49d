"""Where a quantity is heading: a straight line by least squares through its latest readings, and when it meets a limit.

Ordinary least squares (NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1): slope, its standard error, and scatter about
the line. A line is believed only where it stands clearly out of the scatter; a controlled quantity that swings
about its setpoint has no trend.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from booth.judge.evidence import UNKNOWN, Evidence
from booth.judge.measured import measure
from booth.physics.decision import COVERAGE_FACTOR, certainly_beyond
from booth.shop.requirement import ClimateLimit
from booth.times import MINUTE

WINDOW_US = 10 * MINUTE
SHORTEST_US = 5 * MINUTE  # a step younger than this has its own settling to do
FEWEST = 8  # readings; with fewer, the scatter about the line says little about it
CLEAR_ERRORS = 3.0  # the slope is this many of its standard errors away from zero
CLEAR_RISE = 8.0  # and it rises by this many times the scatter, which a jump never does: through a jump the best line rises by 6

BENDS = 0.3
"""Standard error of the slope ahead, as a share of it: fronts begin slowly and end, and controllers answer."""


@dataclass(frozen=True)
class Trend:
    """A fitted line: `value` at `at` (microseconds), `slope` and its standard `error` per second, `scatter` (one sigma)."""

    at: int
    value: float
    slope: float
    error: float
    scatter: float
    span_s: float
    count: int

    @property
    def clear(self) -> bool:
        """Whether it is a trend and not noise."""
        rise = abs(self.slope) * self.span_s
        return abs(self.slope) > CLEAR_ERRORS * self.error and rise > CLEAR_RISE * self.scatter

    def seconds_to(self, low: float | None, high: float | None) -> float | None:
        """Until the line leaves the limits, None where it doesn't head there, or is beyond them already."""
        limit = high if self.slope > 0 else low
        if limit is None or self.slope == 0:
            return None
        seconds = (limit - self.value) / self.slope
        return seconds if seconds > 0 else None

    def soonest(self, limit: float, expanded_uncertainty: float) -> float:
        """The seconds before which the limit isn't crossed, with about 95 %, by an instrument that is so sure.

        Where the band of two standard errors about the line meets the limit first (inverse prediction, the same handbook, 2.3.6).
        The band has the instrument's error, that of the slope, and that no air moves on in a straight line. When it is crossed at
        the latest nobody can say: most of what sets out for a limit turns before it (docs/truth.md).
        """
        level = (expanded_uncertainty / COVERAGE_FACTOR) ** 2 + 4 * self.scatter**2 / self.count
        bends = self.error**2 + (BENDS * self.slope) ** 2
        gap, k2 = abs(limit - self.value), COVERAGE_FACTOR**2
        # The first solution t of (gap − |slope| t)² = k² (level + bends t²), the limit being ahead.
        a, b, c = self.slope**2 - k2 * bends, gap * abs(self.slope), gap**2 - k2 * level
        return c / (b + math.sqrt(max(b * b - a * c, 0.0))) if c > 0 else 0.0


def fit(times: npt.NDArray[np.int64], values: npt.NDArray[np.float64], at: int) -> Trend | None:
    """The line through readings (times in microseconds), told at a moment; None with too few of them."""
    usable = np.isfinite(values)
    times, values = times[usable], values[usable]
    if len(times) < FEWEST or times[0] == times[-1]:
        return None
    seconds = (times - at) / 1e6
    middle = seconds.mean()
    spread = float(((seconds - middle) ** 2).sum())
    slope = float(((seconds - middle) * values).sum() / spread)
    value = float(values.mean() - slope * middle)
    scatter = float(np.sqrt(((values - value - slope * seconds) ** 2).sum() / (len(times) - 2)))
    return Trend(at, value, slope, scatter / spread**0.5, scatter, float(seconds[-1] - seconds[0]), len(times))


@dataclass(frozen=True)
class Heading:
    """Where a measure that is still inside its limits is going: `seconds` until it crosses `limit`, at the `slope` per second.

    Not before the seconds `soonest`, with about 95 %; and perhaps never.
    """

    value: float
    limit: float
    slope: float
    seconds: float
    soonest: float


def heading(limit: ClimateLimit, evidence: Evidence, modes: tuple[str, ...] | None, at: int, horizon_us: int) -> Heading | None:
    """Whether a climate measure is inside its limits at a moment, but heads out of them within the horizon.

    By the readings of the WINDOW_US before the moment that lie in the step: what came before the step was other air.
    """
    if evidence.start is None or at - evidence.start < SHORTEST_US:
        return None
    measured = measure(limit, evidence, max(evidence.start, at - WINDOW_US), at, modes)
    usable = measured.known & measured.applicable
    if measured.missing is not None or not usable[-1:].all():
        return None
    for low, high, values in ((limit.low, None, measured.low), (None, limit.high, measured.high)):
        end = high if low is None else low
        trend = fit(measured.edges[:-1], np.where(usable, values, np.nan), at) if end is not None else None
        if trend is None or not trend.clear or bool(certainly_beyond(values[-1], low, high, 0.0)):
            continue
        seconds = trend.seconds_to(low, high)
        if seconds is not None and seconds * 1e6 <= horizon_us:
            u = float(measured.uncertainty_at(measured.edges[-2:-1])[0])
            return Heading(float(values[-1]), end, trend.slope, seconds, trend.soonest(end, 0.0 if u >= UNKNOWN else u))
    return None
