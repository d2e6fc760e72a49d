"""Whatever happens, in whatever rhythm it is looked at and wherever the logger restarts: the same alarms.

The oracle for the delays walks through time second by second with no arithmetic on moments (definitions: ISA-18.2).
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby

from alarm_conditions import at, humid, no_air
from hypothesis import given
from hypothesis import strategies as st

from booth.alarms.advance import Delay, Delays, advance
from booth.alarms.book import AlarmBook, acknowledge, restore, retire, shelve, unshelve
from booth.alarms.condition import Condition
from booth.alarms.states import ACTIVE, AlarmError, Event, State
from booth.alarms.transition import Transition, transition_body
from booth.times import SECOND

END = 120
IDS = ("one", "two", "north/airflow")


@dataclass(frozen=True)
class Story:
    occurrences: tuple[Condition, ...]
    presses: tuple[tuple[int, str, str, int], ...]  # second, what, alarm, seconds on the shelf
    delays: Delays


@st.composite
def occurrences(draw: st.DrawFn, alarm_id: str, latched: bool = True, priorities: Iterable[str] = ("warning", "alarm")) -> list:
    found, moment = [], 0
    for gap, length in draw(st.lists(st.tuples(st.integers(1, 30), st.integers(1, 30)), max_size=4)):
        since = moment + gap
        moment = since + length
        if alarm_id == "north/airflow":
            found.append(no_air(since, moment))
        else:
            priority = draw(st.sampled_from(tuple(priorities)))
            found.append(humid(since, moment, id=alarm_id, priority=priority))
    if latched and draw(st.booleans()):
        # A miss under the same id as the warnings before it, at any time, beside them or after.
        found.append(humid(draw(st.integers(1, END)), id=alarm_id, priority="alarm", latched=True))
    return found


seconds = st.integers(0, 20)
delay = st.builds(lambda on, off: Delay(on * SECOND, off * SECOND), seconds, seconds)
press = st.tuples(
    st.integers(1, END),
    st.sampled_from(["acknowledge", "acknowledge", "shelve", "unshelve", "retire", "restore"]),
    st.sampled_from(IDS),
    st.integers(1, 60),
)
stories = st.builds(
    lambda one, two, air, presses, delays: Story((*one, *two, *air), tuple(sorted(presses)), delays),
    occurrences("one"),
    occurrences("two"),
    occurrences("north/airflow", latched=False),
    st.lists(press, max_size=8),
    st.builds(Delays, delay, delay, delay),
)


def known(story: Story, second: int) -> list[Condition]:
    """What a judge could list then: nobody knows yet when something will end."""
    now = at(second)
    return [
        replace(each, until=each.until if each.until and each.until <= now else None)
        for each in story.occurrences
        if each.since <= now
    ]


def pressed(book: AlarmBook, second: int, what: str, alarm_id: str, shelf: int) -> tuple[AlarmBook, list[Transition]]:
    actions = {"acknowledge": acknowledge, "unshelve": unshelve, "retire": retire, "restore": restore}
    try:
        if what == "shelve":
            return shelve(book, alarm_id, at(second + shelf), at(second), "badge-17")
        return actions[what](book, alarm_id, at(second), "badge-17")
    except AlarmError:
        return book, []


def told(story: Story, every: int, restart_every: int | None = None) -> tuple[AlarmBook, list[Transition]]:
    """The story, looked at every so many seconds, at each press of a button, and at the end."""
    book, journal = AlarmBook(), []
    looks = sorted({*range(0, END, every), *(second for second, *_ in story.presses), END})
    for number, second in enumerate(looks):
        if restart_every and number % restart_every == 0:
            book = folded(journal)
        book, moves = advance(book, known(story, second), at(second), story.delays)
        journal += moves
        for press in story.presses:
            if press[0] == second:
                book, moves = pressed(book, *press)
                journal += moves
    return book, journal


def folded(journal: list[Transition]) -> AlarmBook:
    return AlarmBook.fold(json.loads(json.dumps([transition_body(move) for move in journal])))


@given(stories)
def test_the_journal_folds_to_the_live_book(story: Story) -> None:
    book, journal = told(story, every=7)
    assert folded(journal) == book


@given(stories, st.integers(2, END))
def test_the_rhythm_of_looking_changes_nothing(story: Story, every: int) -> None:
    book, journal = told(story, every=1)
    rarely_book, rarely = told(story, every)
    assert rarely_book == book
    assert by_alarm(rarely) == by_alarm(journal)


@given(stories, st.integers(1, 9))
def test_a_restart_anywhere_changes_nothing(story: Story, restart_every: int) -> None:
    assert told(story, every=1, restart_every=restart_every) == told(story, every=1)


@given(stories)
def test_what_always_holds(story: Story) -> None:
    _, journal = told(story, every=3)
    for alarm_id, moves in by_alarm(journal).items():
        assert moves[0].before is State.NORMAL
        for last, move in zip(moves, moves[1:], strict=False):
            assert (move.before, move.at >= last.at) == (last.after, True)
        for move in moves:
            assert move.before is not move.after or move.cause is Event.WORSEN, "nothing happened"
            if move.cause is Event.APPEAR:
                assert move.before not in ACTIVE, "a second alarm of one id"
            if move.cause is Event.CLEAR:
                assert not move.condition.latched
            if alarm_id == "north/airflow":
                assert move.after not in (State.SHELVED, State.OUT_OF_SERVICE)


@given(stories)
def test_a_miss_stays_until_retired(story: Story) -> None:
    book, journal = told(story, every=3)
    book, _ = advance(book, [], at(END + 3600), story.delays)
    for missed in {each.id for each in story.occurrences if each.latched}:
        retired = any(move.cause is Event.RETIRE for move in by_alarm(journal)[missed])
        assert retired or book.get(missed).state in ACTIVE
        assert book.get(missed).condition.latched or retired


def by_alarm(journal: list[Transition]) -> dict[str, list[Transition]]:
    ordered = sorted(journal, key=lambda move: move.alarm_id)
    return {alarm_id: list(moves) for alarm_id, moves in groupby(ordered, key=lambda move: move.alarm_id)}


def walked(true_at: set[int], on: int, off: int) -> list[tuple[str, int]]:
    """On-delay: true for `on` seconds and still. Off-delay: not once true for `off` seconds."""
    found, active = [], False
    for now in range(END + 1):
        gone = not true_at & set(range(now - off, now)) and (off > 0 or now not in true_at)
        if active and gone:
            found.append(("clear", now))
            active = False
        if not active and set(range(now - on, now + 1)) <= true_at:
            found.append(("appear", now))
            active = True
    return found


@given(occurrences("one", latched=False, priorities=["alarm"]), seconds, seconds, st.integers(1, END))
def test_delays_against_a_walk_through_time(listed: list[Condition], on: int, off: int, every: int) -> None:
    seconds_of = ((round((c.since - at(0)) / SECOND), round((c.until - at(0)) / SECOND)) for c in listed)
    true_at = {second for since, until in seconds_of for second in range(since, until)}
    delays = Delays(alarm=Delay(on * SECOND, off * SECOND))
    _, journal = told(Story(tuple(listed), (), delays), every)
    assert [(move.cause.value, round((move.at - at(0)) / SECOND)) for move in journal] == walked(true_at, on, off)
