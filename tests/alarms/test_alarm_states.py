"""The table of states against ANSI/ISA-18.2 and IEC 62682.

Names of the states: open documentation that reproduces the standard's state diagram; the transitions: from memory of that figure.

Written out a second time here, pair by pair, with each pair's because where the standard leaves it to us.
"""

from __future__ import annotations

import itertools

import pytest

from booth.alarms.states import STANDING, AlarmError, Event, State, next_state

OURS_TO_THEIRS = {"unacknowledged": "unacked", "acknowledged": "acked", "returned_unacknowledged": "rtn_unacked"}

REFUSED = None
EXPECTED = {
    ("normal", "appear"): "unacknowledged",
    ("normal", "worsen"): "unacknowledged",
    ("normal", "clear"): "normal",
    ("normal", "acknowledge"): REFUSED,
    ("normal", "shelve"): "shelved",  # a nuisance is shelved between two of its appearances
    ("normal", "unshelve"): REFUSED,
    ("normal", "retire"): "out_of_service",
    ("normal", "restore"): REFUSED,
    ("unacknowledged", "appear"): "unacknowledged",  # never a second one
    ("unacknowledged", "worsen"): "unacknowledged",
    ("unacknowledged", "clear"): "returned_unacknowledged",
    ("unacknowledged", "acknowledge"): "acknowledged",
    ("unacknowledged", "shelve"): "shelved",
    ("unacknowledged", "unshelve"): REFUSED,
    ("unacknowledged", "retire"): "out_of_service",
    ("unacknowledged", "restore"): REFUSED,
    ("acknowledged", "appear"): "acknowledged",
    ("acknowledged", "worsen"): "unacknowledged",  # who acknowledged the warning hasn't seen the alarm
    ("acknowledged", "clear"): "normal",
    ("acknowledged", "acknowledge"): "acknowledged",  # the same press delivered twice
    ("acknowledged", "shelve"): "shelved",
    ("acknowledged", "unshelve"): REFUSED,
    ("acknowledged", "retire"): "out_of_service",
    ("acknowledged", "restore"): REFUSED,
    ("returned_unacknowledged", "appear"): "unacknowledged",
    ("returned_unacknowledged", "worsen"): "unacknowledged",
    ("returned_unacknowledged", "clear"): "returned_unacknowledged",
    ("returned_unacknowledged", "acknowledge"): "normal",
    ("returned_unacknowledged", "shelve"): "shelved",
    ("returned_unacknowledged", "unshelve"): REFUSED,
    ("returned_unacknowledged", "retire"): "out_of_service",
    ("returned_unacknowledged", "restore"): REFUSED,
    ("shelved", "appear"): "shelved",
    ("shelved", "worsen"): "unacknowledged",  # the warning was shelved, not the alarm
    ("shelved", "clear"): "shelved",
    ("shelved", "acknowledge"): REFUSED,
    ("shelved", "shelve"): REFUSED,
    ("shelved", "unshelve"): "normal",  # and appears anew if it is still true
    ("shelved", "retire"): "out_of_service",
    ("shelved", "restore"): REFUSED,
    ("out_of_service", "appear"): "out_of_service",
    ("out_of_service", "worsen"): "out_of_service",
    ("out_of_service", "clear"): "out_of_service",
    ("out_of_service", "acknowledge"): REFUSED,
    ("out_of_service", "shelve"): REFUSED,
    ("out_of_service", "unshelve"): REFUSED,
    ("out_of_service", "retire"): "out_of_service",
    ("out_of_service", "restore"): "normal",
}


def test_every_pair_is_decided_here_too() -> None:
    assert set(EXPECTED) == {(s.value, e.value) for s, e in itertools.product(State, Event)}


@pytest.mark.parametrize(("state", "event"), list(EXPECTED))
def test_next_state(state: str, event: str) -> None:
    expected = EXPECTED[state, event]
    if expected is REFUSED:
        with pytest.raises(AlarmError, match=r"\bit (is|isn't) "):
            next_state(State(state), Event(event))
    else:
        assert next_state(State(state), Event(event)) is State(expected)


def test_the_states_are_those_of_the_standard() -> None:
    # The seventh, suppressed by design, isn't used: states.py says why.
    published = {"normal", "unacked", "acked", "rtn_unacked", "shelved", "suppressed_by_design", "out_of_service"}
    assert {OURS_TO_THEIRS.get(state, state) for state in State} == published - {"suppressed_by_design"}


def test_only_normal_and_out_of_service_show_nothing() -> None:
    assert set(State) - STANDING == {State.NORMAL, State.OUT_OF_SERVICE}
