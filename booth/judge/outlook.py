"""When a clock that runs at the pace of a temperature will be done, and how sure that is.

A panel, or a pot, in moving air is a lump that goes to a temperature of its own as 1 − e^(−t/τ) (Newton's law of cooling): the
slope that it has now dies away with τ. What the air does meanwhile nobody knows, so the error of the temperature ahead grows with
the change foretold and with time. Two standard errors either way give the moments between which the end is expected with about
95 %; how often it fell there is measured (docs/truth.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from booth.judge.clockwork import Reckoning
from booth.judge.evidence import UNKNOWN
from booth.judge.series import Series
from booth.judge.trend import fit
from booth.physics.decision import COVERAGE_FACTOR
from booth.physics.lines import first_at
from booth.physics.pace import Pace, Side
from booth.times import HOUR, MINUTE, SECOND

LOOK_BACK_US = 5 * MINUTE
SETTLES_S = 600.0
"""τ of a panel in downdraft air: 2 to 5 mm of steel or laminate, 7 to 10 kJ/(m² K), lose 15 W/(m² K); common practice."""

CHANGE_ERROR = 0.2
"""Standard error of a change foretold, as a share of it: τ is that of no particular panel, and the air changes too."""

DRIFT_K = 0.1
"""Standard error that grows from nothing, in kelvin after a minute, with the root of time: what nobody foresees."""

POINTS = 241
"""In which the course ahead is worked out: enough for sums along a smooth curve, and quick enough for twice a second."""

LONGEST = 3.0  # times the slowest time of the table: further ahead nothing is foretold


@dataclass(frozen=True)
class Expected:
    """A moment, and by how much it may come sooner or later with about 95 %; microseconds.

    Where nobody knows, both are None; `later_us` alone is None where it may never come.
    """

    at: int
    sooner_us: int | None
    later_us: int | None


@dataclass(frozen=True)
class Outlook:
    """A temperature ahead: `value` now, `slope` per second now, and the standard `error` of the value now."""

    value: float
    slope: float
    error: float

    def ahead(self, seconds: npt.ArrayLike, errors: float = 0.0) -> np.ndarray:
        """After so many seconds, `errors` standard errors above what is expected."""
        after = np.asarray(seconds, float)
        change = self.slope * SETTLES_S * (1 - np.exp(-after / SETTLES_S))
        drift = DRIFT_K * np.sqrt(after / 60.0)
        return self.value + change + errors * np.sqrt(self.error**2 + (CHANGE_ERROR * change) ** 2 + drift**2)


def outlook(series: Series | None, at: int, expanded_uncertainty: float) -> Outlook | None:
    """By the readings of the last minutes; None where the newest one is too old to speak, or there are too few."""
    if series is None:
        return None
    known = series.until(at)
    if not len(known) or at - int(known.times[-1]) > known.max_age_us:
        return None
    first = int(np.searchsorted(known.times, at - LOOK_BACK_US))
    line = fit(known.times[first:], known.values[first:], at)
    if line is None:
        return None
    thermometer = 0.0 if expanded_uncertainty >= UNKNOWN else expanded_uncertainty / COVERAGE_FACTOR
    return Outlook(line.value, line.slope, math.hypot(thermometer, line.scatter))


def expected_end(pace: Pace, side: Side, ahead: Outlook | None, at: int, reckoning: Reckoning, uncertainty: float) -> Expected:
    """When a clock was done, or is expected to be; `uncertainty` is expanded, of the progress.

    Where the temperature that drives it can't be foretold, at the pace that is on the safe side, the slowest of the table for a
    minimum, the fastest for a maximum; then nobody knows how sure that is. What may have counted, though
    nobody knows, lets the end come sooner.
    """
    slowest, fastest = max(pace.times_s), min(pace.times_s)
    doubt_s = (reckoning.most - reckoning.least) * fastest
    within = _us(uncertainty * fastest)
    if reckoning.done_at is not None:
        return Expected(reckoning.done_at, within, within)
    left = 1 - reckoning.least
    foretold = None
    if pace.is_fixed:
        foretold = Expected(at + _us(left * fastest), within, within)
    elif ahead is not None:
        foretold = finish(pace, side, ahead, at, reckoning.least, uncertainty)
    if foretold is None or not math.isfinite(doubt_s):
        return Expected(at + _us(left * (slowest if side == "minimum" else fastest)), None, None)
    return replace(foretold, sooner_us=foretold.sooner_us + _us(doubt_s))


def finish(pace: Pace, side: Side, ahead: Outlook, at: int, done: float, uncertainty: float) -> Expected | None:
    """When a clock that has done its share `done`, known to within the expanded `uncertainty`, will have done all.

    None where it never does at the temperature that is expected.
    """
    seconds = np.linspace(0.0, LONGEST * max(pace.times_s), POINTS)
    expected, warmer, colder = (_reached(pace, side, seconds, ahead.ahead(seconds, k), 1 - done) for k in (0, 2, -2))
    if expected is None:
        return None
    own_s = uncertainty / max(pace.pace_per_s(float(ahead.ahead(expected)), side), 1 / max(pace.times_s))
    later = None if colder is None else _us(math.hypot(colder - expected, own_s))
    return Expected(at + _us(expected), _us(math.hypot(expected - warmer, own_s)), later)


def falls_to(target: float, ahead: Outlook, at: int) -> Expected | None:
    """When a temperature that falls will be down at `target`; None where it is expected to stay above, within an hour."""
    seconds = np.linspace(0.0, HOUR / SECOND, POINTS)
    expected, warmer, colder = (first_at(seconds, -ahead.ahead(seconds, k), -target) for k in (0, 2, -2))
    if expected is None:
        return None
    later = None if warmer is None else _us(warmer - expected)
    return Expected(at + _us(expected), _us(expected - colder), later)


def _reached(pace: Pace, side: Side, seconds: np.ndarray, temperatures_c: np.ndarray, left: float) -> float | None:
    """After how many seconds the rest is done, along a course of temperatures."""
    paces = pace.pace_per_s(temperatures_c, side)
    sums = np.concatenate(([0.0], np.cumsum((paces[1:] + paces[:-1]) / 2 * np.diff(seconds))))
    return first_at(seconds, sums, left)


def _us(seconds: float) -> int:
    return round(seconds * SECOND)
