"""The states of an alarm (ANSI/ISA-18.2, IEC 62682) and what each event does in each of them.

One table decides every pair. The standard's `suppressed by design` isn't here: a limit is bound to booth modes, so a
condition that means nothing now is never found in the first place. WORSEN is ours: when a warning becomes an alarm, or
an alarm a miss, under the same id, having acknowledged or shelved the milder one must not swallow it.
"""

from __future__ import annotations

from enum import StrEnum


class AlarmError(ValueError):
    """Something that can't be done to an alarm, in a sentence for whoever tried."""


class State(StrEnum):
    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned_unacknowledged"
    SHELVED = "shelved"
    OUT_OF_SERVICE = "out_of_service"


class Event(StrEnum):
    APPEAR = "appear"
    WORSEN = "worsen"
    CLEAR = "clear"
    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    RETIRE = "retire"
    RESTORE = "restore"


ACTIVE = frozenset({State.UNACKNOWLEDGED, State.ACKNOWLEDGED})
STANDING = ACTIVE | {State.RETURNED_UNACKNOWLEDGED, State.SHELVED}

_N, _U, _A, _R, _S, _O = State

# Refusals finish the sentence "alarm … can't be …: ".
_NOTHING = "there is nothing to acknowledge, it is back to normal"
_ON_SHELF = "it is shelved; unshelve it first"
_NOT_ON_SHELF = "it isn't shelved"
_OUT = "it is out of service; restore it first"
_IN_SERVICE = "it isn't out of service"

# The same state again means: nothing happens. Rows follow State; columns are the events. After UNSHELVE and RESTORE a condition
# that is still true appears anew, so these lead to normal.
_TABLE: dict[State, tuple[State | str, ...]] = {
    #  appear worsen clear acknowledge shelve    unshelve       retire restore
    _N: (_U,  _U,    _N,   _NOTHING,   _S,       _NOT_ON_SHELF, _O,    _IN_SERVICE),
    _U: (_U,  _U,    _R,   _A,         _S,       _NOT_ON_SHELF, _O,    _IN_SERVICE),
    _A: (_A,  _U,    _N,   _A,         _S,       _NOT_ON_SHELF, _O,    _IN_SERVICE),
    _R: (_U,  _U,    _R,   _N,         _S,       _NOT_ON_SHELF, _O,    _IN_SERVICE),
    _S: (_S,  _U,    _S,   _ON_SHELF,  _ON_SHELF, _N,           _O,    _IN_SERVICE),
    _O: (_O,  _O,    _O,   _OUT,       _OUT,     _NOT_ON_SHELF, _O,    _N),
}  # fmt: skip


def next_state(state: State, event: Event) -> State:
    """The state after an event; the same state where the event changes nothing.

    Raises AlarmError, whose text is the reason, where the event makes no sense in that state.
    """
    outcome = _TABLE[state][list(Event).index(event)]
    if isinstance(outcome, State):
        return outcome
    raise AlarmError(outcome)
