"""When a clock that runs at the pace of a temperature will be done, and how sure that is.

A panel, or a pot, in moving air is a lump that goes to a temperature of its own as 1 − e^(−t/τ) (Newton's law of cooling): the
slope that it has now dies away with τ. What the air does meanwhile nobody knows, so the error of the temperature ahead grows with
the change foretold and with time. Two standard errors either way give the moments between which the end is expected with about
95 %; how often it fell there is measured (docs/truth.md).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from booth.judge.clockwork import Reckoning
from booth.judge.evidence import UNKNOWN
from booth.judge.series import Series
from booth.judge.trend import FEWEST, fit
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

SETTLED_S = 5 * SETTLES_S
"""What is left of a change then is below 1 %: a table of days needs no fine steps after it."""

SETTLING_POINTS = 151  # of POINTS, for what comes before: 20 s apart

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
    # A point that may speak seldom is heard by as many readings as a line needs, if each came while the one before still spoke.
    oldest, lately = np.searchsorted(known.times, (at - max(LOOK_BACK_US, FEWEST * known.max_age_us), at - LOOK_BACK_US))
    first = max(int(oldest), min(int(lately), len(known) - FEWEST))
    line = fit(known.times[first:], known.values[first:], at)
    if line is None:
        return None
    thermometer = 0.0 if expanded_uncertainty >= UNKNOWN else expanded_uncertainty / COVERAGE_FACTOR
    return Outlook(line.value, line.slope, math.hypot(thermometer, line.scatter))


def expected_end(
    pace: Pace, side: Side, ahead: Outlook | None, at: int, reckoning: Reckoning, uncertainty: float, over: bool = False
) -> Expected | None:
    """When a clock was done, or is expected to be; `uncertainty` is expanded, of the progress.

    Where the temperature that drives it can't be foretold, at the pace that is on the safe side: the slowest of the table for a
    minimum, for a maximum the fastest of the table or of any reading. Then nobody knows how sure that is. What may have counted,
    though nobody knows, lets the end come sooner. None where the clock is `over` and never got there, unless its time is fixed:
    then the moment was known beforehand.
    """
    found = _expected_end(pace, side, ahead, at, reckoning, uncertainty, over)
    return found if found is None or uncertainty < UNKNOWN else Expected(found.at, None, None)


def _expected_end(
    pace: Pace, side: Side, ahead: Outlook | None, at: int, reckoning: Reckoning, uncertainty: float, over: bool
) -> Expected | None:
    perhaps = reckoning.most if math.isfinite(reckoning.most) else reckoning.perhaps
    if reckoning.done_at is not None:
        return _was_done(pace, side, None if over else ahead, at, reckoning, uncertainty)
    if pace.is_fixed:
        time_s = pace.times_s[0]
        within = _us(uncertainty * time_s)
        return Expected(at + _us((1 - reckoning.least) * time_s), within + _us((perhaps - reckoning.least) * time_s), within)
    if over and reckoning.least < 1:
        return None
    foretold = None if ahead is None or over else finish(pace, side, ahead, at, reckoning.least, uncertainty, perhaps)
    if foretold is not None:
        return foretold
    slowest = max(pace.times_s)
    if side == "minimum" or reckoning.least >= 1:  # a maximum's least runs at the slowest pace where nobody saw it
        return Expected(at + _us((1 - reckoning.least) * slowest), None, None)
    return Expected(at + _us(max(1 - perhaps, 0.0) / max(1 / min(pace.times_s), reckoning.swiftest)), None, None)


def _was_done(pace: Pace, side: Side, ahead: Outlook | None, at: int, reckoning: Reckoning, uncertainty: float) -> Expected:
    """A clock that is done; as long as that isn't sure, at the latest when it will be, at the pace that it has by then."""
    within = _us(uncertainty / max(1 / max(pace.times_s), reckoning.done_pace))
    short = 1 - (reckoning.least - uncertainty)
    if side == "maximum" or pace.is_fixed:
        return Expected(reckoning.done_at, within, within)
    if short <= 0:
        return Expected(
            reckoning.done_at, within, min(within, at - reckoning.done_at)
        )  # by now it is sure, however slow it was then
    if ahead is None:
        return Expected(reckoning.done_at, within, max(within, at + _us(short * max(pace.times_s)) - reckoning.done_at))
    sure = finish(pace, side, ahead, at, 1 - short, 0.0)
    return Expected(reckoning.done_at, within, None if sure is None else sure.at - reckoning.done_at)


def finish(
    pace: Pace, side: Side, ahead: Outlook, at: int, done: float, uncertainty: float, perhaps: float = 0.0
) -> Expected | None:
    """When a clock that has done its share `done`, known to within the expanded `uncertainty`, will have done all.

    It may have done as much as `perhaps`, and then the end comes sooner. None where it never does at the temperature that is
    expected.
    """
    seconds = _moments(LONGEST * max(pace.times_s))
    sums = [_sums(pace, side, seconds, ahead.ahead(seconds, k)) for k in (0, 2, -2)]
    expected, warmer, colder = (first_at(seconds, one, 1 - done) for one in sums)
    if expected is None:
        return None
    own_s = uncertainty / max(pace.pace_per_s(float(ahead.ahead(expected)), side), 1 / max(pace.times_s))
    doubt_s = expected - first_at(seconds, sums[0], 1 - max(done, perhaps))
    later = None if colder is None else _us(math.hypot(colder - expected, own_s))
    return Expected(at + _us(expected), _us(doubt_s + math.hypot(expected - warmer, own_s)), later)


def the_last(ends: Sequence[Expected]) -> Expected:
    """The last of several moments. Each may be the one that is last, so that what is late or unsure of any is so of it.

    Where nobody knows how sure one of them is, the moment on the safe side of what is known.
    """
    latest = max(one.at for one in ends)
    if any(one.sooner_us is None for one in ends):
        return Expected(max(one.at + (one.later_us or 0) for one in ends), None, None)
    later = None if any(one.later_us is None for one in ends) else max(one.at + one.later_us for one in ends) - latest
    return Expected(latest, latest - max(one.at - one.sooner_us for one in ends), later)


def the_first(ends: Sequence[Expected]) -> Expected:
    """The first of several moments, likewise: each may be the one that is first."""
    first = min(one.at for one in ends)
    if any(one.sooner_us is None for one in ends):
        return Expected(min(one.at - (one.sooner_us or 0) for one in ends), None, None)
    later = min((one.at + one.later_us - first for one in ends if one.later_us is not None), default=None)
    return Expected(first, first - min(one.at - one.sooner_us for one in ends), later)


def falls_to(target: float, ahead: Outlook, at: int) -> Expected | None:
    """When a temperature that falls will be down at `target`; None where it is expected to stay above, within an hour."""
    seconds = np.linspace(0.0, HOUR / SECOND, POINTS)
    expected, warmer, colder = (first_at(seconds, -ahead.ahead(seconds, k), -target) for k in (0, 2, -2))
    if expected is None:
        return None
    later = None if warmer is None else _us(warmer - expected)
    return Expected(at + _us(expected), _us(expected - colder), later)


@cache
def _moments(longest_s: float) -> np.ndarray:
    """Seconds ahead: close together while a temperature settles, then ever further apart."""
    if longest_s <= SETTLED_S:
        return np.linspace(0.0, longest_s, POINTS)
    after = np.geomspace(SETTLED_S, longest_s, POINTS - SETTLING_POINTS + 1)
    return np.concatenate((np.linspace(0.0, SETTLED_S, SETTLING_POINTS), after[1:]))


def _sums(pace: Pace, side: Side, seconds: np.ndarray, temperatures_c: np.ndarray) -> np.ndarray:
    """How much more is done after so many seconds, along a course of temperatures."""
    paces = pace.pace_per_s(temperatures_c, side)
    return np.concatenate(([0.0], np.cumsum((paces[1:] + paces[:-1]) / 2 * np.diff(seconds))))


def _us(seconds: float) -> int:
    return round(seconds * SECOND)
