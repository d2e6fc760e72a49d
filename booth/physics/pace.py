"""Pace: how fast a coat gets on at a temperature, and how far it has got.

A data sheet tabulates the time that a step takes at some temperatures. Between two of them ln(time) is linear in 1/T,
T in kelvin: the Arrhenius law. Progress is ∫ dt / time(T(t)), and the step is done at 1. It is the integral of equivalent age
in ASTM C1074 (eq. 2), of the mean kinetic temperature in USP <1160>, and, with another rate, of F0; their worked
examples check it.

Outside the table the answer is always on the safe side, so one table has two sides:

    side "minimum"   (at least this long)  below the lowest point nothing is earned; above the highest point no more
                                           than at it
    side "maximum"   (at most this long)   below the lowest point the clock runs as at it; above the highest point
                                           it runs at the pace extrapolated from the last two points
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from booth.physics.elementwise import Values, elementwise, plain
from booth.physics.lines import Duration, Lines, join, join_in_span, seconds_at_or_above, span_us
from booth.physics.saturation import ZERO_CELSIUS_K

__all__ = [
    "Duration",
    "Pace",
    "Progress",
    "Side",
    "arrhenius_factor",
    "cumulative_progress",
    "progress",
    "seconds_at_or_above",
    "time_of_progress",
]

Side = Literal["minimum", "maximum"]


@elementwise
def arrhenius_factor(temperature_c: Values, reference_c: Values, activation_k: Values) -> Values:
    """How many times as fast as at the reference; `activation_k` is the activation energy over the gas constant, in K.

    exp(-Q (1/T - 1/Tr)): ASTM C1074 eq. 2.
    """
    return np.exp(-activation_k * (1 / (temperature_c + ZERO_CELSIUS_K) - 1 / (reference_c + ZERO_CELSIUS_K)))


class Progress(NamedTuple):
    """The share done, 1 being complete, and the seconds of the span that could not be counted for want of readings."""

    done: float
    missing_s: float


@dataclass(frozen=True)
class Pace:
    """The time of a step: fixed (`temperatures_c` empty, one time), or tabulated over ascending temperatures."""

    temperatures_c: tuple[float, ...]
    times_s: tuple[float, ...]

    @classmethod
    def fixed(cls, time_s: float) -> Pace:
        """The same time at every temperature."""
        return cls((), (float(time_s),))

    @classmethod
    def table(cls, points: Iterable[tuple[float, float]]) -> Pace:
        """From (temperature in °C, time in s) pairs in any order."""
        temperatures, times = zip(*sorted(points), strict=True)
        return cls(tuple(map(float, temperatures)), tuple(map(float, times)))

    def __post_init__(self) -> None:
        if len(self.times_s) != max(1, len(self.temperatures_c)):
            raise ValueError(f"{len(self.temperatures_c)} temperatures but {len(self.times_s)} times: give one time for each")
        if not all(np.isfinite(time) and time > 0 for time in self.times_s):
            raise ValueError(f"times must be above zero, not {self.times_s}")
        if not all(-ZERO_CELSIUS_K < temperature < np.inf for temperature in self.temperatures_c):
            raise ValueError(f"temperatures must be above absolute zero, not {self.temperatures_c}")
        for (cool, slow), (warm, fast) in pairwise(zip(self.temperatures_c, self.times_s, strict=False)):
            if warm <= cool:
                raise ValueError(f"temperatures must rise from point to point, but {warm:g} °C follows {cool:g} °C")
            if fast > slow:
                raise ValueError(f"{fast:g} s at {warm:g} °C is longer than {slow:g} s at {cool:g} °C: check the table")

    @property
    def is_fixed(self) -> bool:
        return not self.temperatures_c

    def pace_per_s(self, temperature_c: Values, side: Side) -> Any:
        """1 / time(T), in 1/s. A "maximum" with a single tabulated point raises ValueError (nothing to extrapolate)."""
        self._check(side)
        temperature = np.asarray(temperature_c, float)
        if self.is_fixed:
            return plain(np.full(temperature.shape, 1 / self.times_s[0]))
        lowest, highest = self.temperatures_c[0], self.temperatures_c[-1]
        if side == "minimum":
            return plain(np.where(temperature < lowest, 0.0, self._tabulated(np.minimum(temperature, highest))))
        return plain(self._tabulated(np.maximum(temperature, lowest)))

    def _check(self, side: Side) -> None:
        if side not in ("minimum", "maximum"):
            raise ValueError(f'side {side!r} is unknown: write "minimum" or "maximum"')
        if side == "maximum" and len(self.temperatures_c) == 1:
            raise ValueError("a maximum needs two tabulated points, so that the pace above can be told, or a fixed time")

    def _tabulated(self, temperature: np.ndarray) -> np.ndarray:
        """The Arrhenius law from the point below, with the slope towards the next; the ends' slopes extrapolate."""
        points, times = np.array(self.temperatures_c), np.array(self.times_s)
        if points.size == 1:
            return np.where(np.isnan(temperature), np.nan, 1 / times[0])
        inverse_k = 1 / (points + ZERO_CELSIUS_K)
        activation_k = np.diff(np.log(times)) / np.diff(inverse_k)
        below = np.clip(np.searchsorted(points, temperature, side="right") - 1, 0, points.size - 2)
        return arrhenius_factor(temperature, points[below], activation_k[below]) / times[below]


def progress(
    times_us: npt.ArrayLike,
    temperatures_c: npt.ArrayLike | None,
    pace: Pace,
    side: Side,
    max_gap_us: int,
    *,
    start_us: int | None = None,
    end_us: int | None = None,
) -> Progress:
    """How far the step has got over [start, end); without bounds, from the first reading to the last.

    A fixed pace counts elapsed time and needs no temperature (None); nothing is then missing.
    """
    if pace.is_fixed:
        start, end = span_us(times_us, start_us, end_us)
        return Progress((end - start) / 1e6 / pace.times_s[0], 0.0)
    lines, missing = join_in_span(times_us, temperatures_c, max_gap_us, start_us, end_us)
    return Progress(float(_amounts(lines, pace, side)[1].sum()), missing)


def cumulative_progress(
    times_us: npt.ArrayLike, temperatures_c: npt.ArrayLike | None, pace: Pace, side: Side, max_gap_us: int
) -> np.ndarray:
    """Progress at each reading since the first; level across gaps."""
    times = np.asarray(times_us, np.int64)
    if pace.is_fixed:
        return (times - times[:1]) / 1e6 / pace.times_s[0]
    lines, amounts = _amounts(join(times, temperatures_c, max_gap_us), pace, side)
    steps = np.bincount(lines.reading, weights=amounts, minlength=max(0, times.size - 1))
    return np.concatenate(([0.0], np.cumsum(steps)))[: times.size]


def time_of_progress(
    times_us: npt.ArrayLike,
    temperatures_c: npt.ArrayLike | None,
    pace: Pace,
    side: Side,
    max_gap_us: int,
    *,
    target: float = 1.0,
    start_us: int | None = None,
    end_us: int | None = None,
) -> int | None:
    """The moment, in microseconds, when progress reaches `target`; None if it doesn't within the span.

    A fixed pace needs only the start, so its moment is known ahead, whatever the readings or the end.
    """
    start, _ = span_us(times_us, start_us, end_us)
    if pace.is_fixed:
        return start + round(target * pace.times_s[0] * 1e6)
    lines, _ = join_in_span(times_us, temperatures_c, max_gap_us, start_us, end_us)
    lines, amounts = _amounts(lines, pace, side)
    done = np.cumsum(amounts)
    at = int(np.searchsorted(done, target))
    if at == done.size:
        return None
    line = lines.only(np.array([at]))
    seconds = _seconds_along(line, target - (done[at] - amounts[at]), pace, side)
    return int(np.asarray(times_us)[0]) + round((float(line.start_s[0]) + seconds) * 1e6)


def _amounts(lines: Lines, pace: Pace, side: Side) -> tuple[Lines, np.ndarray]:
    lines = lines.split_at(pace.temperatures_c)
    return lines, lines.integral(lambda temperature: pace.pace_per_s(temperature, side))


def _seconds_along(line: Lines, amount: float, pace: Pace, side: Side) -> float:
    """Regula falsi (Illinois): the pace has no sign changes, so the amount only grows along the line, and nearly straight."""
    start, low, high = float(line.start_s[0]), 0.0, float(line.seconds[0])

    def excess(seconds: float) -> float:
        return float(_amounts(line.clip(start, start + seconds), pace, side)[1].sum()) - amount

    below, above, last = -amount, max(excess(high), 0.0), 0
    while high - low > 2e-7 and above > 0:
        middle = (low * above - high * below) / (above - below)
        found = excess(middle)
        if abs(found) <= 1e-13 * amount:
            return middle
        if found < 0:
            low, below, above, last = middle, found, above / 2 if last < 0 else above, -1
        else:
            high, above, below, last = middle, found, below / 2 if last > 0 else below, 1
    return high
