"""How long the fan has run since the last spraying, held against the clearance time that the shop measured with smoke.

It never says that the air is good: only how long the recorded fan has run without a stop. Silence is on the side of the caution
both ways: a gun last seen on is on, and a fan that nobody measures has stopped. Whatever stops it, the time starts anew.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from booth.judge.series import Series
from booth.judge.track import runs


@dataclass(frozen=True)
class Clearance:
    """`sprayed`: the last moment at which a gun was on; `since`: from when the fan has run without a stop since then, None while
    it doesn't run or nobody knows; `until`: when the clearance time will have run, None likewise. Microseconds.
    """

    sprayed: int
    since: int | None
    until: int | None

    def is_over(self, as_of: int) -> bool:
        return self.until is not None and self.until <= as_of


def clearance(
    guns: Sequence[Series],
    air: Series,
    spraying: float,
    minimum: float,
    time_us: int,
    as_of: int,
    unseen: int | None = None,
) -> Clearance | None:
    """The clearance as of a moment; None where the readings hold no spraying.

    Guns are on above the flow `spraying`, the fan runs at an air velocity of `minimum` or more. Once the time has run without a
    stop it has run: a fan that is switched off afterwards starts nothing anew, only spraying does. `unseen`: the last moment at
    which a gun that nobody heard may have been on.
    """
    seen = [unseen, *(_last_on(gun, spraying, as_of) for gun in guns)]
    sprayed = max((moment for moment in seen if moment is not None), default=None)
    if sprayed is None:
        return None
    stretches = _running(air.until(as_of), minimum, sprayed, as_of)
    done = next((start for start, end in stretches if end - start >= time_us), None)
    if done is None and stretches and stretches[-1][1] >= as_of:
        done = stretches[-1][0]
    return Clearance(sprayed, done, None if done is None else done + time_us)


def unheard(guns: Sequence[Series], sprays: Sequence[tuple[int, int]], as_of: int) -> int | None:
    """The last moment of the booth's own spraying at which a gun wasn't heard; None where each was heard all the time.

    `sprays`: stretches in which the booth's mode said that it sprays. A gun that is silent in them may be on.
    """
    return max((end for gun in guns for end in _silent_ends(gun.until(as_of), sprays, as_of)), default=None)


def _silent_ends(gun: Series, sprays: Sequence[tuple[int, int]], as_of: int) -> Iterator[int]:
    spoken_to = np.append(np.iinfo(np.int64).min, gun.times + gun.max_age_us)
    speaks_again = np.append(gun.times, as_of)
    silent = spoken_to < speaks_again
    for start, end in sprays:
        within = silent & (spoken_to < end) & (speaks_again > start)
        if within.any():
            yield min(int(speaks_again[within][-1]), end)


def _last_on(gun: Series, spraying: float, as_of: int) -> int | None:
    """The last moment at which a gun may have been on: up to the reading that says otherwise, or to now."""
    known = gun.until(as_of)
    on = np.flatnonzero(known.values > spraying)
    if not len(on):
        return None
    following = int(on[-1]) + 1
    return int(known.times[following]) if following < len(known) else as_of


def _running(air: Series, minimum: float, start: int, as_of: int) -> list[tuple[int, int]]:
    """Stretches of [start, as_of] in which the fan is known to have run: each reading speaks until the next, or `max_age`."""
    first = max(0, int(np.searchsorted(air.times, start, side="right")) - 1)
    times, fast = air.times[first:], air.values[first:] >= minimum
    if not len(times):
        return []
    ends = np.append(np.minimum(times[1:], times[:-1] + air.max_age_us), min(int(times[-1]) + air.max_age_us, as_of))
    found: list[tuple[int, int]] = []
    for begin, past in runs(fast):
        for one in _split_at_gaps(times[begin:past], ends[begin:past]):
            if one[1] > start:
                found.append((max(one[0], start), one[1]))
    return found


def _split_at_gaps(times: np.ndarray, ends: np.ndarray) -> list[tuple[int, int]]:
    """Readings that follow each other, cut where one was too old before the next came."""
    cuts = np.flatnonzero(ends[:-1] < times[1:])
    firsts, lasts = np.append(0, cuts + 1), np.append(cuts, len(times) - 1)
    return [(int(times[first]), int(ends[last])) for first, last in zip(firsts, lasts, strict=True)]
