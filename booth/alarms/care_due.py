"""Care that is due, as conditions for alarms: a warning a week before, an alarm when it is over. They name nobody."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from booth.alarms.condition import Condition
from booth.judge.care import WARN_US, Due

EVERYWHERE = "shop"
"""Where an alarm stands that belongs to no booth, such as one about training."""


def care_conditions(found: Iterable[Due], known_since: int, as_of: int) -> Iterator[Condition]:
    """One for each kind of care that is near or over. `known_since`: when the rule first stood in the shop's file; what was never
    recorded is due since then. Once the care is entered, its condition is gone.
    """
    for one in found:
        if not one.is_near(as_of):
            continue
        over = one.is_over(as_of)
        yield Condition(
            id=one.id,
            booth=one.booth or EVERYWHERE,
            requirement=f"care:{one.kind}",
            priority="alarm" if over and (one.failed or one.at is not None) else "warning",  # a new shop has no past yet
            sentence=one.sentence,
            since=_since(one, known_since, over),
            what_to_do="Do it, then enter it: booth event " + one.kind,
            audience="maintenance",
        )


def _since(one: Due, known_since: int, over: bool) -> int:
    """From the dates alone, so that a restart changes nothing."""
    if one.failed and one.last is not None:
        return one.last
    if one.at is None:
        return known_since
    return one.at if over else one.at - WARN_US
