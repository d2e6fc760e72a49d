"""What time and the conditions do to the alarms: on-delay, off-delay, the end of a shelving.

The result depends on the conditions' own times and not on how often this is called: advancing once over an hour leaves
the same book as advancing every half second, as long as an occurrence stays listed (with its `until`) for a while after
it ended.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from booth.alarms.book import Alarm, AlarmBook, Change
from booth.alarms.condition import Condition
from booth.alarms.states import ACTIVE, Event, State, next_state
from booth.alarms.transition import Transition
from booth.times import SECOND


@dataclass(frozen=True)
class Delay:
    """How long a condition must be true to raise an alarm, and how long it must be gone to clear it (ISA-18.2), microseconds."""

    on_us: int
    off_us: int


@dataclass(frozen=True)
class Delays:
    """Per priority. 15 s is what ISA-18.2 suggests as a start for fast quantities such as flow and pressure (from memory)."""

    warning: Delay = Delay(15 * SECOND, 15 * SECOND)
    alarm: Delay = Delay(15 * SECOND, 15 * SECOND)
    hazard: Delay = Delay(0, 15 * SECOND)

    def due(self, condition: Condition) -> int:
        """When it raises an alarm. A latched one can't be fleeting, so there is nothing to wait for."""
        waits = not (condition.immediate or condition.latched)
        return condition.since + (self._of(condition).on_us if waits else 0)

    def gone(self, condition: Condition) -> float:
        """When it may clear its alarm; infinity while it is true and for a latched one, which only `settle` ends."""
        if condition.latched or condition.until is None:
            return math.inf
        return condition.until + self._of(condition).off_us

    def _of(self, condition: Condition) -> Delay:
        return getattr(self, condition.priority)


DEFAULT_DELAYS = Delays()


def advance(book: AlarmBook, conditions: Iterable[Condition], as_of: int, delays: Delays = DEFAULT_DELAYS) -> Change:
    """The book at `as_of`, and the transitions that led there in order of time.

    `conditions`: all that are true, and those that ended lately, with `until`; several of one id are several
    occurrences. An active alarm of which nothing is listed any more has been withdrawn by the judge: it clears at once.
    So never call it with a part. A latched alarm needs no listing: its condition is taken to be true until it is settled.
    """
    listed: dict[str, list[Condition]] = defaultdict(list)
    for condition in conditions:
        listed[condition.id].append(condition)
    for alarm_id, alarm in book.alarms.items():
        if alarm.condition.latched:
            listed[alarm_id].append(alarm.condition)
    moves: list[Transition] = []
    for alarm_id in sorted({*listed, *book.standing()}):
        book, made = _advance_one(book, alarm_id, listed.get(alarm_id, []), as_of, delays)
        moves += made
    return book, sorted(moves, key=lambda move: move.at)  # stable: an alarm's own order stays


def _advance_one(book: AlarmBook, alarm_id: str, listed: list[Condition], as_of: int, delays: Delays) -> Change:
    moves: list[Transition] = []
    alarm = book.alarms.get(alarm_id)
    if alarm and alarm.shelved_until is not None and alarm.shelved_until <= as_of:
        # Up to its end the shelf holds back all but what is worse; only then does it end.
        book, moves = _follow(book, alarm_id, listed, alarm.shelved_until, delays)
        if book.alarms[alarm_id].state is State.SHELVED:
            book, made = _move(book, Event.UNSHELVE, alarm.shelved_until, alarm.condition)
            moves += made
    book, made = _follow(book, alarm_id, listed, as_of, delays)
    moves += made
    alarm = book.alarms.get(alarm_id)
    withdrawn = not _unsettled(alarm, listed)
    if alarm and alarm.state in ACTIVE and withdrawn:
        book, made = _move(book, Event.CLEAR, as_of, alarm.condition)
        moves += made
    return book, moves


def _follow(book: AlarmBook, alarm_id: str, listed: list[Condition], up_to: int, delays: Delays) -> Change:
    moves: list[Transition] = []
    spells = _spells(_unsettled(book.alarms.get(alarm_id), listed), delays)
    next_begins = [spell[0].since for spell, _ in spells[1:]] + [math.inf]
    for (spell, end), following in zip(spells, next_begins, strict=False):
        for condition in sorted(spell, key=lambda each: (delays.due(each), -each.rank)):
            event = _raising(book.alarms.get(alarm_id), condition, delays.due(condition), up_to)
            if event:
                # When it was raised it hadn't ended, however late this is worked out.
                snapshot = replace(condition, until=None)
                book, made = _move(book, event, delays.due(condition), snapshot)
                moves += made
        alarm = book.alarms.get(alarm_id)
        # An alarm that was raised after the next spell began isn't this one's to clear.
        if alarm and alarm.state in ACTIVE and end <= up_to and alarm.raised < following:
            last = max(spell, key=lambda each: (each.rank, each.since))
            snapshot = last if last.rank >= alarm.condition.rank else alarm.condition
            book, made = _move(book, Event.CLEAR, int(end), snapshot)
            moves += made
    return book, moves


def _unsettled(alarm: Alarm | None, listed: list[Condition]) -> list[Condition]:
    if alarm is None or alarm.settled is None:
        return listed
    return [each for each in listed if each.until is None or each.until > alarm.settled]


def _spells(listed: list[Condition], delays: Delays) -> list[tuple[list[Condition], float]]:
    """Occurrences joined where the next begins before the off-delay of the last is over; each group with its end."""
    spells: list[tuple[list[Condition], float]] = []
    for condition in sorted(listed, key=lambda each: each.since):
        end = delays.gone(condition)
        if spells and condition.since < spells[-1][1]:
            members, reach = spells[-1]
            spells[-1] = ([*members, condition], max(reach, end))
        else:
            spells.append(([condition], end))
    return spells


def _raising(alarm: Alarm | None, condition: Condition, due: int, up_to: int) -> Event | None:
    fleeting = condition.until is not None and condition.until <= due
    if due > up_to or fleeting:
        return None
    state = alarm.state if alarm else State.NORMAL
    if state in (State.NORMAL, State.RETURNED_UNACKNOWLEDGED):
        return Event.APPEAR
    worse = condition.rank > alarm.condition.rank
    return Event.WORSEN if worse and state is not State.OUT_OF_SERVICE else None


def _move(book: AlarmBook, event: Event, at: int, condition: Condition) -> Change:
    old = book.alarms.get(condition.id)
    before = old.state if old else State.NORMAL
    at = max(at, old.at) if old else at  # late readings: an alarm's own history never runs backwards
    transition = Transition(condition.id, before, next_state(before, event), at, event, condition)
    return book.after(transition), [transition]
