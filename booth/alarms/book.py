"""All alarms at once: a fold over their own transitions, and what people do to them.

Every change, live or on a restart, goes through `_changed`, so the book folded from the journal is the live one.
Nothing is kept beside what the transitions say; running delays aren't state (booth.alarms.advance reckons them from the
conditions).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from booth.alarms.condition import Condition
from booth.alarms.states import STANDING, AlarmError, Event, State, next_state
from booth.alarms.transition import Transition, read_transition
from booth.times import HOUR, format_time

LONGEST_SHELF_US = 8 * HOUR  # one shift: whoever shelved it is still there when it returns (common practice, no source)

_SETTLES = frozenset({Event.CLEAR, Event.UNSHELVE, Event.RESTORE})
_RAISES = frozenset({Event.APPEAR, Event.WORSEN})
_PARTICIPLE = {
    Event.ACKNOWLEDGE: "acknowledged",
    Event.SHELVE: "shelved",
    Event.UNSHELVE: "unshelved",
    Event.RETIRE: "taken out of service",
    Event.RESTORE: "restored",
}


@dataclass(frozen=True)
class Alarm:
    """One alarm; times in microseconds UTC.

    `condition` is the snapshot of the last transition; `at` is that transition's moment; `raised` when it last appeared
    or worsened; what was over by `settled` has been dealt with and can't raise it again; `shelved_until` is None off
    the shelf.
    """

    condition: Condition
    state: State
    at: int
    raised: int
    settled: int | None = None
    shelved_until: int | None = None


@dataclass(frozen=True)
class AlarmBook:
    """Every alarm that was ever raised, by id, those back to normal included. A value: changing it gives a new one."""

    alarms: Mapping[str, Alarm] = field(default_factory=dict)

    @classmethod
    def fold(cls, bodies: Iterable[Mapping[str, Any]]) -> AlarmBook:
        """The book as the journal left it, from the bodies of its alarm entries in order (AlarmError where they don't fit)."""
        alarms: dict[str, Alarm] = {}  # one that grows: years of alarms, copied at each of their changes, would take minutes
        for body in bodies:
            transition = read_transition(body)
            alarms[transition.alarm_id] = _changed(alarms.get(transition.alarm_id), transition)
        return cls(alarms)

    def after(self, transition: Transition) -> AlarmBook:
        """The book with one more transition; AlarmError where it doesn't follow from the state that the alarm is in."""
        new = _changed(self.alarms.get(transition.alarm_id), transition)
        return AlarmBook({**self.alarms, transition.alarm_id: new})

    def after_all(self, transitions: Iterable[Transition]) -> tuple[AlarmBook, list[AlarmError]]:
        """The book with many more, and what was left out because it doesn't follow: one copy, however many there are."""
        alarms, problems = dict(self.alarms), []
        for transition in transitions:
            try:
                alarms[transition.alarm_id] = _changed(alarms.get(transition.alarm_id), transition)
            except AlarmError as problem:
                problems.append(problem)
        return AlarmBook(alarms), problems

    def standing(self) -> dict[str, Alarm]:
        """The alarms that have something to show: not those that are normal or out of service."""
        return {alarm_id: alarm for alarm_id, alarm in self.alarms.items() if alarm.state in STANDING}

    def get(self, alarm_id: str) -> Alarm:
        """The alarm, or AlarmError naming those that stand."""
        if alarm_id in self.alarms:
            return self.alarms[alarm_id]
        names = ", ".join(sorted(self.standing())) or "none"
        raise AlarmError(f"there is no alarm {alarm_id!r}; standing now: {names}")


def _changed(old: Alarm | None, transition: Transition) -> Alarm:
    """The alarm after one more transition; the one place where that is worked out."""
    state = old.state if old else State.NORMAL
    if transition.before is not state or next_state(state, transition.cause) is not transition.after:
        raise AlarmError(
            f"alarm {transition.alarm_id} is {state.value}; an entry of {format_time(transition.at)} takes it from "
            f"{transition.before.value} to {transition.after.value} by {transition.cause.value}, which doesn't follow"
        )
    return Alarm(
        condition=transition.condition,
        state=transition.after,
        at=transition.at,
        raised=transition.at if old is None or transition.cause in _RAISES else old.raised,
        settled=transition.at if transition.cause in _SETTLES else old and old.settled,
        shelved_until=transition.shelved_until,
    )


Change = tuple[AlarmBook, list[Transition]]


def acknowledge(book: AlarmBook, alarm_id: str, as_of: int, by: str) -> Change:
    """Somebody has seen it. A second time changes nothing. All of these raise AlarmError where it can't be done."""
    return _act(book, alarm_id, Event.ACKNOWLEDGE, as_of, by)


def shelve(book: AlarmBook, alarm_id: str, until: int, as_of: int, by: str) -> Change:
    """Out of sight for a limited time; advance() brings it back. Refused for loss of airflow and hazards."""
    alarm = book.get(alarm_id)
    if alarm.condition.immediate:
        raise AlarmError(f"alarm {alarm_id} can't be shelved: it is about airflow or a hazard; put the cause right")
    if not as_of < until <= as_of + LONGEST_SHELF_US:
        latest = format_time(as_of + LONGEST_SHELF_US)
        raise AlarmError(
            f"alarm {alarm_id} can't be shelved until {format_time(until)}: "
            f"give a moment after {format_time(as_of)} and not after {latest}"
        )
    return _act(book, alarm_id, Event.SHELVE, as_of, by, until)


def unshelve(book: AlarmBook, alarm_id: str, as_of: int, by: str) -> Change:
    """Back before its time; if its condition is still true, the next advance() raises it anew."""
    return _act(book, alarm_id, Event.UNSHELVE, as_of, by)


def retire(book: AlarmBook, alarm_id: str, as_of: int, by: str) -> Change:
    """Out of service: maintenance's way out while an instrument is broken."""
    condition = book.get(alarm_id).condition
    if condition.immediate and not condition.latched:
        raise AlarmError(f"alarm {alarm_id} can't be taken out of service: it is about airflow or a hazard; put the cause right")
    return _act(book, alarm_id, Event.RETIRE, as_of, by)


def settle(book: AlarmBook, alarm_id: str, as_of: int, by: str) -> Change:
    """The cause of a latched alarm is dealt with: its round is closed or remedied, or later evidence took the miss back.

    Whoever hasn't acknowledged it still has to: it returns unacknowledged.
    """
    alarm = book.get(alarm_id)
    at = max(as_of, alarm.at)
    over = replace(alarm.condition, until=max(at, alarm.condition.since + 1))
    event = Event.UNSHELVE if alarm.state is State.SHELVED else Event.CLEAR
    after = next_state(alarm.state, event)
    if after is alarm.state:
        return book, []
    transition = Transition(alarm_id, alarm.state, after, at, event, over, by)
    return book.after(transition), [transition]


def restore(book: AlarmBook, alarm_id: str, as_of: int, by: str) -> Change:
    """Back in service; if its condition is still true, the next advance() raises it anew."""
    return _act(book, alarm_id, Event.RESTORE, as_of, by)


def _act(book: AlarmBook, alarm_id: str, event: Event, as_of: int, by: str, until: int | None = None) -> Change:
    alarm = book.get(alarm_id)
    try:
        after = next_state(alarm.state, event)
    except AlarmError as reason:
        raise AlarmError(f"alarm {alarm_id} can't be {_PARTICIPLE[event]}: {reason}") from None
    if after is alarm.state:
        return book, []
    # A badge reader's clock may be behind; an alarm's own history never runs backwards.
    at = max(as_of, alarm.at)
    transition = Transition(alarm_id, alarm.state, after, at, event, alarm.condition, by, until)
    return book.after(transition), [transition]
