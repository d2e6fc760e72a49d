"""A measure on its way out of its limits: the warning that comes while something can still be done about it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from booth.alarms.condition import Condition
from booth.judge.trend import Heading
from booth.shop.measures import LIMITED, WORDS
from booth.times import SECOND
from booth.units import show

HEADED = ("dew_point_margin", "relative_humidity", "air_temperature")
EVERY_US = 30 * SECOND
"""Trends are told at full half minutes and not at whatever moment somebody looks, so that everybody finds the same."""

KEPT = 32
"""So many half minutes stay listed: longer than any off-delay, and whoever looks once in a quarter of an hour sees them all."""


def moments(start: int, end: int) -> range:
    """The full half minutes at which the trend of a step is told, the last few up to `end`."""
    last = end // EVERY_US * EVERY_US
    return range(max(last - (KEPT - 1) * EVERY_US, -(-start // EVERY_US) * EVERY_US), last + 1, EVERY_US)


def headed(
    told: Sequence[tuple[int, Heading | None]], measure: str, common: dict[str, Any], end: int | None
) -> Iterator[Condition]:
    """A warning from the second half minute on in which the measure headed out, until the first in which it didn't.

    One alone may be chance. `end`: when the step ended.
    """
    streak: list[tuple[int, Heading]] = []
    for moment, found in [*told, (end, None)]:
        if found is not None:
            streak.append((moment, found))
            continue
        if len(streak) >= 2 and (moment is None or moment > streak[1][0]):
            since, seen = streak[1]
            yield Condition(**common, priority="warning", sentence=_sentence(seen, measure), since=since, until=moment)
        streak = []


def _sentence(heading: Heading, measure: str) -> str:
    kind = LIMITED[measure]
    left, soonest = max(1, round(heading.seconds / 60)), int(heading.soonest / 60)
    within = f"{soonest} min at the soonest" if soonest else "perhaps sooner"
    return (
        f"{WORDS[measure].capitalize()} is {show(heading.value, kind)}; at this rate it crosses {show(heading.limit, kind)} "
        f"in about {left} min ({within})"
    )
