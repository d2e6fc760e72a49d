"""The alarms that a shift raised, and the figures of ISA-18.2 and EEMUA 191 over many of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from booth.alarms.states import Event, State
from booth.alarms.transition import read_transition
from booth.store import Store
from booth.times import SECOND

FIRST_DAY = "care:"
"""Care of a booth that was never recorded. Each of these shifts is a shop's first day, and asks for all of it at once."""

RAISING = (Event.APPEAR, Event.WORSEN)


@dataclass(frozen=True)
class Raised:
    """An alarm that asked for attention, in seconds after midnight: `at_s` by the readings, `told_s` when it was written down."""

    alarm: str
    requirement: str
    priority: str
    audience: str
    at_s: float
    told_s: float


def raised_alarms(store: Store, midnight: int) -> Iterator[Raised]:
    for entry in store.journal.entries(kinds=["alarm"]):
        move = read_transition(entry.body, entry.private)
        about = move.condition
        if move.cause in RAISING and move.after is State.UNACKNOWLEDGED and not about.requirement.startswith(FIRST_DAY):
            at, told = ((one - midnight) / SECOND for one in (move.at, entry.recorded))
            yield Raised(move.alarm_id, about.requirement, about.priority, about.audience, at, told)
