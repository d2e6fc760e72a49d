"""Too many alarms are as bad as none: rates, floods and chattering over the moments at which alarms were raised.

Figures: more than 10 in 10 minutes is a flood, which lasts until fewer than 5 (ISA-18.2, EEMUA 191; the 5 from memory);
one alarm that comes and goes 3 times in a minute chatters (ISA-18.2 practice).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from booth.times import MINUTE

PERIOD_US = 10 * MINUTE
FLOOD_ABOVE = 10
FLOOD_OVER_BELOW = 5
CHATTER_TIMES = 3
CHATTER_US = MINUTE


@dataclass(frozen=True)
class Flood:
    """[start, end) in microseconds UTC, with the number of alarms raised in it."""

    start: int
    end: int
    raised: int


def per_ten_minutes(raised: Sequence[int], moment: int) -> int:
    """How many of the ascending moments lie in the ten minutes up to `moment`: after moment - 10 min, at or before it."""
    return bisect_right(raised, moment) - bisect_right(raised, moment - PERIOD_US)


def floods(raised: Iterable[int]) -> list[Flood]:
    """Every flood that has ended, in order."""
    moments = sorted(raised)
    found: list[Flood] = []
    start: int | None = None
    # The rate can only rise when an alarm is raised and only fall ten minutes later.
    for moment in sorted({*moments, *(each + PERIOD_US for each in moments)}):
        rate = per_ten_minutes(moments, moment)
        if start is None and rate > FLOOD_ABOVE:
            start = moment
        elif start is not None and rate < FLOOD_OVER_BELOW:
            count = bisect_left(moments, moment) - bisect_left(moments, start)
            found.append(Flood(start, moment, count))
            start = None
    return found


def chatters(raised: Iterable[int]) -> bool:
    """Whether one alarm was raised three times within a minute."""
    moments = sorted(raised)
    pairs = zip(moments, moments[CHATTER_TIMES - 1 :], strict=False)
    return any(last - first <= CHATTER_US for first, last in pairs)
