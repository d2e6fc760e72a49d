"""One alarm's life, told by example. Definitions of on-delay, off-delay and shelving: ISA-18.2 (check_values section 8)."""

from __future__ import annotations

import json
from typing import Any

import pytest
from alarm_conditions import at, humid, late_bake, no_air

from booth.alarms.advance import Delay, Delays, advance
from booth.alarms.book import AlarmBook, acknowledge, restore, retire, settle, shelve, unshelve
from booth.alarms.condition import Condition, condition_id
from booth.alarms.states import AlarmError, State
from booth.alarms.transition import read_transition, transition_body, transition_private
from booth.judge.finding import Window
from booth.times import HOUR, SECOND

DELAYS = Delays(*[Delay(10 * SECOND, 20 * SECOND)] * 2, hazard=Delay(0, 20 * SECOND))
MARGIN = "TV-4104/1/base-1/margin"
BAKE = "TV-4103/1/bake/bake_start"


def advanced(book: AlarmBook, seconds: float, *conditions: Condition) -> AlarmBook:
    return advance(book, conditions, at(seconds), DELAYS)[0]


def raised(*conditions: Condition) -> AlarmBook:
    return advanced(AlarmBook(), 30, *conditions)


def state(book: AlarmBook, alarm_id: str = MARGIN) -> State:
    return book.get(alarm_id).state


def test_on_delay_off_delay_and_their_moments() -> None:
    book, moves = advance(AlarmBook(), [humid(100)], at(109.9), DELAYS)
    assert (dict(book.alarms), moves) == ({}, [])
    book, moves = advance(book, [humid(100)], at(113), DELAYS)
    assert [(m.before, m.after, m.at) for m in moves] == [("normal", "unacknowledged", at(110))]
    book, moves = advance(book, [humid(100, 130)], at(149.9), DELAYS)
    assert moves == []
    book, moves = advance(book, [humid(100, 130)], at(150), DELAYS)
    assert [(m.before, m.after, m.at) for m in moves] == [("unacknowledged", "returned_unacknowledged", at(150))]
    assert advance(book, [humid(100, 130)], at(999), DELAYS) == (book, []), "an occurrence is dealt with once"


def test_too_short_is_no_alarm_but_keeps_one_up() -> None:
    assert advanced(AlarmBook(), 100, humid(0, 9)).standing() == {}
    book = advanced(AlarmBook(), 60, humid(0, 30), humid(45, 46))
    assert state(book) is State.UNACKNOWLEDGED, "not gone for 20 s together"
    assert advanced(book, 66, humid(0, 30), humid(45, 46)).get(MARGIN).settled == at(66)


def test_what_was_too_short_before_does_not_clear_it() -> None:
    book = advanced(AlarmBook(), 60, humid(0, 5), humid(40))
    assert advance(book, [humid(0, 5), humid(40)], at(61), DELAYS) == (book, [])


def test_late_readings_that_end_it_before_it_was_raised_still_clear_it() -> None:
    book = advanced(AlarmBook(), 60, humid(0, 5), humid(40))
    assert advanced(book, 65, humid(0, 5), humid(40, 45)).get(MARGIN).settled == at(65)


def test_acknowledged_then_gone_is_normal_and_comes_back() -> None:
    book, (move,) = acknowledge(raised(humid(0)), MARGIN, at(40), "badge-17")
    assert (move.by, move.after, move.at) == ("badge-17", State.ACKNOWLEDGED, at(40))
    assert acknowledge(book, MARGIN, at(41), "badge-17") == (book, []), "pressed twice"
    book = advanced(book, 100, humid(0, 50))
    assert state(book) is State.NORMAL
    assert state(advanced(book, 130, humid(0, 50), humid(110))) is State.UNACKNOWLEDGED


def test_a_missed_requirement_is_raised_at_once_and_stays() -> None:
    book, (move,) = advance(AlarmBook(), [late_bake(5)], at(5), DELAYS)
    assert move.at == at(5)
    book = advanced(book, 3600)
    assert state(book, BAKE) is State.UNACKNOWLEDGED
    book, _ = acknowledge(book, BAKE, at(3601), "badge-17")
    book = advanced(book, 7200, late_bake(5, until=6))
    assert state(book, BAKE) is State.ACKNOWLEDGED
    book, _ = retire(book, BAKE, at(7300), "badge-03")
    book = advanced(book, 7400, late_bake(5))
    assert book.standing() == {}
    book, _ = restore(book, BAKE, at(7500), "badge-03")
    assert advanced(book, 7501, late_bake(5)).get(BAKE).raised == at(7500), "still true when restored"


def test_a_miss_comes_back_from_the_shelf_even_if_nobody_lists_it_any_more() -> None:
    book, _ = shelve(raised(late_bake(5)), BAKE, at(600), at(50), "badge-17")
    assert state(advanced(book, 700), BAKE) is State.UNACKNOWLEDGED
    assert state(advanced(book, 700, late_bake(5, until=60)), BAKE) is State.UNACKNOWLEDGED


def test_what_was_acknowledged_is_news_again_when_it_is_missed_for_good() -> None:
    book, _ = acknowledge(raised(humid(0)), MARGIN, at(40), "badge-17")
    book, (move,) = advance(book, [humid(0, 60), humid(0, 70, latched=True)], at(3600), DELAYS)
    assert (move.cause, move.after, move.at) == ("worsen", State.UNACKNOWLEDGED, at(40))


def test_withdrawn_clears_at_once() -> None:
    assert state(advanced(raised(humid(0)), 31)) is State.RETURNED_UNACKNOWLEDGED


def test_shelved_is_silent_until_its_time_and_returns() -> None:
    book, (move,) = shelve(raised(humid(0)), MARGIN, at(600), at(50), "badge-17")
    assert (move.shelved_until, move.by) == (at(600), "badge-17")
    assert advance(book, [humid(0)], at(599), DELAYS) == (book, [])
    book, moves = advance(book, [humid(0)], at(605), DELAYS)
    assert [(m.after, m.at) for m in moves] == [("normal", at(600)), ("unacknowledged", at(600))]
    assert book.get(MARGIN).shelved_until is None


def test_worse_while_shelved_is_found_however_late_one_looks() -> None:
    book, _ = shelve(raised(humid(0, priority="warning")), MARGIN, at(600), at(50), "badge-17")
    _, moves = advance(book, [humid(0, priority="warning"), humid(200, 300)], at(3600), DELAYS)
    assert [(m.cause, m.at) for m in moves] == [("worsen", at(210))]


def test_a_warning_and_its_alarm_at_one_moment_are_one_alarm() -> None:
    _, (move,) = advance(AlarmBook(), [humid(0, priority="warning"), humid(0)], at(30), DELAYS)
    assert (move.cause, move.condition.priority) == ("appear", "alarm")


def test_an_alarm_stays_an_alarm_until_its_warning_is_over_too() -> None:
    book = raised(humid(0, priority="warning"), humid(0))
    book = advanced(book, 500, humid(0, priority="warning"))
    assert (state(book), book.get(MARGIN).condition.priority) == (State.UNACKNOWLEDGED, "alarm")
    book = advanced(book, 600, humid(0, 550, priority="warning"))
    assert (state(book), book.get(MARGIN).condition.priority) == (State.RETURNED_UNACKNOWLEDGED, "alarm")


def test_over_while_shelved_does_not_return() -> None:
    book, _ = shelve(raised(humid(0)), MARGIN, at(600), at(50), "badge-17")
    assert state(advanced(book, 605, humid(0, 300))) is State.NORMAL
    book, _ = unshelve(book, MARGIN, at(400), "badge-17")
    assert state(advanced(book, 605, humid(0, 300))) is State.NORMAL


@pytest.mark.parametrize("seen", ["acknowledged", "shelved"])
def test_a_warning_seen_does_not_swallow_the_alarm(seen: str) -> None:
    book = raised(humid(0, priority="warning"))
    if seen == "shelved":
        book, _ = shelve(book, MARGIN, at(3600), at(40), "badge-17")
    else:
        book, _ = acknowledge(book, MARGIN, at(40), "badge-17")
    book, (move,) = advance(book, [humid(0, priority="warning"), humid(60)], at(80), DELAYS)
    assert (move.cause, move.after, move.at) == ("worsen", State.UNACKNOWLEDGED, at(70))
    assert book.get(MARGIN).condition.priority == "alarm"


def test_late_readings_never_turn_an_alarms_history_back() -> None:
    book, _ = acknowledge(raised(humid(0)), MARGIN, at(100), "badge-17")
    _, (move,) = advance(book, [humid(0, 40)], at(101), DELAYS)
    assert move.at == at(100)
    _, (move,) = retire(book, MARGIN, at(99), "a badge reader whose clock is behind")
    assert move.at == at(100)


@pytest.mark.parametrize(
    ("attempt", "sentence"),
    [
        (lambda b: shelve(b, "north/airflow", at(100), at(50), "x"), "alarm north/airflow can't be shelved: it is about airflow"),
        (lambda b: retire(b, "north/airflow", at(50), "x"), "alarm north/airflow can't be taken out of service: it is about"),
        (lambda b: shelve(b, MARGIN, at(50), at(50), "x"), "give a moment after 2026-07-13T00:00:50.000Z and not after 2026-"),
        (lambda b: shelve(b, MARGIN, at(51) + 8 * HOUR, at(50), "x"), "not after 2026-07-13T08:00:50.000Z"),
        (lambda b: unshelve(b, MARGIN, at(50), "x"), f"alarm {MARGIN} can't be unshelved: it isn't shelved"),
        (lambda b: restore(b, MARGIN, at(50), "x"), f"alarm {MARGIN} can't be restored: it isn't out of service"),
        (lambda b: acknowledge(b, "TV-9", at(50), "x"), f"there is no alarm 'TV-9'; standing now: {MARGIN}, north/airflow"),
    ],
)
def test_refusals_say_why(attempt: Any, sentence: str) -> None:
    with pytest.raises(AlarmError) as refused:
        attempt(raised(humid(0), no_air(0)))
    assert sentence in str(refused.value)


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        ({"id": ""}, "a condition needs an id"),
        ({"priority": "urgent"}, "'urgent' is none of warning, alarm, hazard"),
        ({"audience": "all"}, "'all' is neither painter nor maintenance"),
        ({"since": at(9), "until": at(9)}, "is not after since"),
        ({"priority": "hazard"}, "a hazard is immediate"),
    ],
)
def test_a_condition_that_contradicts_itself(facts: dict[str, Any], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        Condition(**{**vars(humid(0)), **facts})


def test_the_journal_gives_back_what_it_was_given() -> None:
    window = Window(None, at(1800))
    book, (first,) = advance(AlarmBook(), [late_bake(0.000001, window=window, overrun_us=1)], at(30), DELAYS)
    _, (second,) = shelve(book, BAKE, at(900), at(40), "badge-17")
    for move in (first, second):
        body = json.loads(json.dumps(transition_body(move)))
        assert read_transition(body, transition_private(move)) == move
        assert "badge" not in json.dumps(body), "who did it is personal: it goes in as a commitment"
    assert read_transition(transition_body(second), {"by": None}).by == "", "redacted"


def test_a_spoilt_journal_entry_is_named() -> None:
    _, (move,) = advance(AlarmBook(), [humid(0)], at(30), DELAYS)
    body = transition_body(move)
    with pytest.raises(AlarmError, match=f"on alarm {MARGIN} lacks the key 'at'"):
        AlarmBook.fold([{k: v for k, v in body.items() if k != "at"}])
    with pytest.raises(AlarmError, match=f"on alarm {MARGIN} can't be read: .*not an RFC 3339 time"):
        AlarmBook.fold([{**body, "at": "yesterday"}])
    with pytest.raises(AlarmError, match="is unacknowledged; an entry of .* which doesn't follow"):
        AlarmBook.fold([body, body])


def test_condition_id() -> None:
    assert condition_id("TV-4103", 1, "bake", "bake_start") == BAKE


@pytest.mark.parametrize("seen", [True, False])
def test_a_miss_that_is_dealt_with_returns_and_stays_away(seen: bool) -> None:
    """The van left, or the remedy was done: acknowledged, the alarm is normal again; else somebody still has to see it."""
    book = raised(late_bake(0))
    if seen:
        book, _ = acknowledge(book, BAKE, at(40), "badge-17")
    book, (move,) = settle(book, BAKE, at(50), "logger")
    assert move.after is (State.NORMAL if seen else State.RETURNED_UNACKNOWLEDGED)
    assert advance(book, [], at(3600), DELAYS) == (book, [])
    assert settle(book, BAKE, at(60), "logger") == (book, [])


def test_a_shelved_miss_that_is_dealt_with_comes_off_the_shelf_for_good() -> None:
    book, _ = shelve(raised(late_bake(0)), BAKE, at(3000), at(40), "badge-03")
    book, (move,) = settle(book, BAKE, at(50), "logger")
    assert move.after is State.NORMAL
    assert advance(book, [], at(7200), DELAYS) == (book, [])


def test_the_same_thing_missed_again_after_that_is_news() -> None:
    book, _ = settle(raised(late_bake(0)), BAKE, at(50), "logger")
    book, moves = advance(book, [late_bake(100)], at(3600), DELAYS)
    assert [move.after for move in moves] == [State.UNACKNOWLEDGED]


def test_folding_years_of_alarms_makes_one_book_and_no_copies(monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy of all that came before at each transition would make the fold quadratic in the age of the journal."""
    bodies = []
    for number in range(40):
        book, moves = advance(AlarmBook(), [humid(number)], at(number + 30), DELAYS)
        bodies += [{**transition_body(move), "alarm": f"{MARGIN}-{number}"} for move in moves]
    made = []
    real = AlarmBook.__init__
    monkeypatch.setattr(AlarmBook, "__init__", lambda self, *facts, **named: made.append(1) or real(self, *facts, **named))
    folded = AlarmBook.fold(bodies)
    assert len(folded.standing()) == 40 and len(made) == 1
