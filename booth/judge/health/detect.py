"""All faults of one point over one window: which detector reads what, and from where on its answer is exact."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from booth.judge.health import faults
from booth.judge.health.bursts import bursts, jumps
from booth.judge.health.clock import clock_off
from booth.judge.health.disagrees import disagrees
from booth.judge.health.operating import out_of_operating_range
from booth.judge.health.settling import Answer
from booth.judge.health.stale import stale
from booth.judge.health.stuck import stuck
from booth.judge.health.terms import Terms
from booth.judge.series import Series
from booth.judge.track import hold
from booth.times import MINUTE

NONE = np.empty(0, np.int64)


@dataclass(frozen=True)
class Window:
    """What is known of one booth's points from `start` up to `as_of`, each with the last reading before.

    `since`: up to here everything was looked at before. `words` are those of the mode point, `impossible` the times of readings
    outside an instrument's range, `minutes` when each full minute began and the smallest arrival less instrument time in it,
    `arrivals` the time of the newest reading and when it arrived.
    """

    start: int
    since: int
    as_of: int
    series: Mapping[str, Series]
    mode: Series | None = None
    words: tuple[str, ...] = ()
    impossible: Mapping[str, np.ndarray] = field(default_factory=dict)
    minutes: Mapping[str, tuple[np.ndarray, np.ndarray]] = field(default_factory=dict)
    arrivals: Mapping[str, tuple[int, int]] = field(default_factory=dict)


def detect(terms: Terms, window: Window) -> Iterator[Answer]:
    """An answer for each fault that is looked for and that there is anything to say about."""
    own, start, as_of = window.series[terms.point], window.start, window.as_of
    impossible = window.impossible.get(terms.point, NONE)
    settled = start + terms.settle_us
    yield Answer(faults.OUT_OF_RANGE, list(bursts(impossible, terms.settle_us, as_of)), start, settled)
    if terms.air is not None and len(window.series[terms.air]):
        hot = out_of_operating_range(window.series[terms.air], terms.operating_to_c, terms.recovery_us, as_of)
        yield Answer(faults.OUT_OF_OPERATING_RANGE, list(hot), start, start + max(terms.recovery_us, terms.max_age_us))
    if not len(own):
        return
    first = int(own.times[0])
    yield Answer(faults.STALE, list(stale(own.times, terms.stale_us, _silent_until(terms, window, own))), start, start)
    if terms.jump is not None:
        far = jumps(own.times, own.values, terms.jump, terms.max_age_us)
        yield Answer(faults.JUMPING, list(bursts(far[far >= start], terms.settle_us, as_of)), start, settled)
    if terms.stuck_us is not None and int(own.times[-1]) + terms.stale_us > window.since:  # silence says nothing about a value
        runs = stuck(own.times, own.values, terms.stuck_us, terms.stale_us, as_of, _told(terms, window, own))
        yield Answer(faults.STUCK, list(runs), start, first)
    if terms.partner is not None and len(window.series[terms.partner]):
        other = window.series[terms.partner]
        apart = disagrees(own, other, terms.uncertainties, terms.disagree_us, as_of)
        yield Answer(faults.DISAGREES, list(apart), start, min(first, int(other.times[0])))
    minutes, offsets = window.minutes.get(terms.point, (NONE, NONE))
    if len(minutes) and int(minutes[-1]) + MINUTE > window.since:
        off = clock_off(minutes, offsets, terms.clock_tolerance_us, terms.clock_us, as_of)
        yield Answer(faults.CLOCK_OFF, list(off), int(minutes[0]), int(minutes[0]))


def _silent_until(terms: Terms, window: Window, own: Series) -> int:
    """Up to when nothing was said since the last reading.

    A reading that comes just now and is dated long ago is a matter of clocks or of a backlog, not of silence: until it is clear
    which, the newest reading is taken to be the present.
    """
    last = int(own.times[-1])
    time, arrived = window.arrivals.get(terms.point, (last, last))
    return last if time == last and arrived > max(window.as_of - terms.stale_us, last + terms.stale_us) else window.as_of


def _told(terms: Terms, window: Window, own: Series) -> np.ndarray | None:
    """Which readings were taken in a mode in which the value can't stand still; None where the mode doesn't matter."""
    if terms.stuck_modes is None:
        return None
    if window.mode is None or not len(window.mode):
        return np.zeros(len(own), bool)
    wanted = [window.words.index(mode) for mode in terms.stuck_modes if mode in window.words]
    track = hold(window.mode, int(own.times[0]), int(own.times[-1]) + 1)
    return np.isin(track.values[np.searchsorted(track.edges, own.times, side="right") - 1], wanted)
