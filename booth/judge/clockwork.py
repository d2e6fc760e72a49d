"""A clock that runs at the pace of a temperature and stops, or starts anew, while conditions are out of limits.

It is run twice: at its least and at its most favourable, so that what nobody measured can be told from what was missed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from booth.judge.evidence import UNKNOWN
from booth.judge.series import Series
from booth.judge.track import runs
from booth.physics.pace import Pace, Side, progress, time_of_progress

State = Literal["in", "unknown", "out"]
_STATES: tuple[State, ...] = ("in", "unknown", "out")

Span = tuple[int, int]
Attempt = list[Span]
"""Spans that add up: one try of the clock. A restart opens another, and the best of them counts."""


class Spell(NamedTuple):
    """A stretch in which conditions were in limits, out of them, or unknown."""

    start: int
    end: int
    state: State


@dataclass(frozen=True)
class Reckoning:
    """Progress at its least and at its most; `done_at` is when the readings had shown the least to reach 1.

    What else a forecast needs, paces per second: `done_pace` was the pace at `done_at`, `swiftest` is the fastest of the table or
    (a maximum) of any reading. `perhaps` takes the place of an infinite `most`: what nobody saw ran no faster than that.
    """

    least: float
    most: float
    done_at: int | None
    perhaps: float = 0.0
    swiftest: float = 0.0
    done_pace: float = 0.0

    def is_certain(self, final: bool) -> bool:
        """Whether a minimum is fulfilled for sure. While the span goes on only readings count, since the next may be another."""
        return self.done_at is not None or (final and self.least >= 1)


def spells_of(edges: np.ndarray, out: np.ndarray, unknown: np.ndarray) -> list[Spell]:
    """Pieces with masks joined into spells; out goes before unknown."""
    state = np.where(out, 2, np.where(unknown, 1, 0))
    found = []
    for number, name in enumerate(_STATES):
        found += [Spell(int(edges[first]), int(edges[past]), name) for first, past in runs(state == number)]
    return sorted(found)


def clipped(spells: Sequence[Spell], start: int, end: int) -> list[Spell]:
    """What of the spells lies in [start, end)."""
    cut = (Spell(max(spell.start, start), min(spell.end, end), spell.state) for spell in spells)
    return [spell for spell in cut if spell.end > spell.start]


def attempts(spells: Sequence[Spell], rule: str) -> tuple[list[Attempt], list[Attempt]]:
    """When the clock counts, at its least and at its most favourable, under pause, restart, go_on or not_stated.

    What no sheet states lies between its strictest and its mildest rule: it is restart at the least, go_on at the most.
    """
    least = {"pause": _paused, "go_on": _whole}.get(rule, _restarted)
    most = {"pause": _paused, "restart": _restarted}.get(rule, _whole)
    return least(spells, ("in",)), most(spells, ("in", "unknown"))


def _whole(spells: Sequence[Spell], _counting: tuple[State, ...]) -> list[Attempt]:
    return [[(spells[0].start, spells[-1].end)]] if spells else []


def _paused(spells: Sequence[Spell], counting: tuple[State, ...]) -> list[Attempt]:
    return [[(spell.start, spell.end) for spell in spells if spell.state in counting]]


def _restarted(spells: Sequence[Spell], counting: tuple[State, ...]) -> list[Attempt]:
    tries: list[Attempt] = [[]]
    for spell in spells:
        if spell.state in counting:
            tries[-1].append((spell.start, spell.end))
        elif tries[-1]:
            tries.append([])
    return tries


def reckon(pace: Pace, side: Side, series: Series | None, least: list[Attempt], most: list[Attempt]) -> Reckoning:
    """Progress of the best attempt. `series` is the temperature that drives the pace, and may be None for a fixed time.

    A temperature that nobody knows counts as nothing at the least and as the table's best at the most. For a maximum, "least" is
    the favourable side: the unknown ran at the table's slowest pace; at the most it may have run at any, so it is infinite. The
    last reading is held to the end of the clock, but not for the least of a maximum: that can be a miss while the clock runs on,
    and the next reading must not be able to take it back.
    """
    ends = [span[1] for attempt in (*least, *most) for span in attempt]
    held = series.held_to(max(ends)) if series is not None and ends else series
    known = series if side == "maximum" else held
    swiftest = _swiftest(pace, side, held)
    lower = max((sum(_lower(pace, side, known, span) for span in attempt) for attempt in least), default=0.0)
    uppers = [[_progress(pace, side, held, span) for span in attempt] for attempt in most]
    perhaps = max((sum(done + missing_s * swiftest for done, missing_s in attempt) for attempt in uppers), default=0.0)
    unseen = any(missing_s >= 1e-6 for attempt in uppers for _, missing_s in attempt)
    upper = np.inf if side == "maximum" and unseen else perhaps
    done_at = min((at for attempt in least if (at := _done_at(pace, side, series, attempt)) is not None), default=None)
    done_pace = 0.0 if done_at is None else _pace_at(pace, side, series, done_at)
    return Reckoning(lower, max(upper, lower), done_at, max(perhaps, lower), swiftest, done_pace)


def spread(pace: Pace, side: Side, series: Series | None, attempts_: list[Attempt], u: float) -> float:
    """Expanded uncertainty of the progress of the best attempt, for a thermometer with expanded uncertainty `u` in kelvin.

    Its error is taken to be the same for all readings: what a calibration leaves is systematic and doesn't average out, what is
    random does (docs/decisions/0014-truth.md). So the sum is worked out with every reading lower, and higher, by `u`.
    """
    if pace.is_fixed or series is None or not len(series) or not u or not any(attempts_):
        return 0.0
    if u >= UNKNOWN:
        return UNKNOWN
    held = series.held_to(max(span[1] for attempt in attempts_ for span in attempt))
    low, high = (
        max(sum(_progress(pace, side, held.shifted(by), span)[0] for span in attempt) for attempt in attempts_) for by in (-u, u)
    )
    return (high - low) / 2


def _lower(pace: Pace, side: Side, series: Series | None, span: Span) -> float:
    done, missing_s = _progress(pace, side, series, span)
    return done + (missing_s / max(pace.times_s) if side == "maximum" else 0.0)


def _swiftest(pace: Pace, side: Side, series: Series | None) -> float:
    """The fastest pace of the table; a maximum runs faster above its table, so of one that of the hottest reading too."""
    fastest = 1 / min(pace.times_s)
    if side == "minimum" or pace.is_fixed or series is None or not len(series):
        return fastest
    return max(fastest, pace.pace_per_s(float(series.values.max()), side))


def _pace_at(pace: Pace, side: Side, series: Series | None, at: int) -> float:
    if pace.is_fixed:
        return 1 / pace.times_s[0]
    return pace.pace_per_s(float(np.interp(at, series.times, series.values)), side)


def _progress(pace: Pace, side: Side, series: Series | None, span: Span) -> tuple[float, float]:
    """Progress over the span, and the seconds of it for which the temperature isn't known."""
    seconds = (span[1] - span[0]) / 1e6
    if pace.is_fixed:
        return seconds / pace.times_s[0], 0.0
    if series is None or not len(series):
        return 0.0, seconds
    return progress(series.times, series.values, pace, side, series.max_age_us, start_us=span[0], end_us=span[1])


def _done_at(pace: Pace, side: Side, series: Series | None, attempt: Attempt) -> int | None:
    """When the attempt reached 1, going by what readings have shown."""
    done = 0.0
    for span in attempt:
        own, _ = _progress(pace, side, series, span)
        if done + own < 1:
            done += own
        elif pace.is_fixed:
            return span[0] + round((1 - done) * pace.times_s[0] * 1e6)
        else:
            at = time_of_progress(
                *(series.times, series.values, pace, side, series.max_age_us),
                target=1 - done,
                start_us=span[0],
                end_us=span[1],
            )
            return span[1] if at is None else at  # the last bit of a sum may fall short of the whole
    return None
