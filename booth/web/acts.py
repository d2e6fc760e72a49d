"""What people do at the board, into the journal under their name. Twice the same is once."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request

from booth.alarms.book import AlarmBook
from booth.alarms.states import State
from booth.event_checks import refuse
from booth.intake import remember_config
from booth.shop.admission import unknown_name
from booth.shop.events import Event, EventError, read_event
from booth.store import Appended, Draft, Entry, Store
from booth.web.board import Board
from booth.web.pages import EHS, MAINTENANCE, PAINTER, SUPERVISOR, Person

CHANNEL = "board"

_AT_THE_BOOTH = frozenset({PAINTER, SUPERVISOR})
_DECIDES = frozenset({SUPERVISOR})
_KEEPS_UP = frozenset({SUPERVISOR, EHS, MAINTENANCE})
MAY: dict[str, frozenset[str]] = {
    **dict.fromkeys(("step-start", "step-end", "hold", "resume", "handover", "not-a-coat"), _AT_THE_BOOTH),
    **dict.fromkeys(("load", "check", "mix", "film", "note"), _AT_THE_BOOTH),
    "acknowledge": _AT_THE_BOOTH | {EHS, MAINTENANCE},
    **dict.fromkeys(("concession", "correction", "release", "reopen", "job-open", "job-close", "shelve"), _DECIDES),
    **dict.fromkeys(("review", "spray-training", "fit-test", "air-sample", "purchase"), _DECIDES | {EHS}),
    "calibration": _DECIDES | {MAINTENANCE},
    **dict.fromkeys(("filter-changed", "grid", "booth-examined", "interlock-tested"), _KEEPS_UP),
    **dict.fromkeys(("gauge-tested", "alarm-tested", "gun-type"), _KEEPS_UP),
    **dict.fromkeys(("gun-cleaned", "used"), _KEEPS_UP | {PAINTER}),
}
"""Who may say what. An event that isn't here can't come from the board."""

NOT_SEEN = (State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED)


async def act(request: Request, event: dict[str, Any]) -> Appended:
    """A person's event into the journal, in its shape of booth.shop.event_shapes; the same `id` is the same act again.

    Raises EventError for one that can't be taken (a page with status 422), HTTPException for a person who may not.
    """
    person = request.state.person
    if person is None or person.role not in MAY.get(str(event.get("event")), frozenset()):
        raise HTTPException(403, "Your account may not do this.")
    return await run_in_threadpool(append, request.app.state.board, person, event)


def append(board: Board, person: Person, raw: dict[str, Any]) -> Appended:
    """The same for a thread that may wait. One commit holds the look at the journal and the entry, so that two screens that do
    the same at once make one entry.
    """
    shop = board.shop
    with board.store() as store:
        now = board.moment(store)
        event = read_event(raw | {"by": person.by}, raw.get("booth"), now)
        problem = unknown_name(event, shop)
        if problem:
            raise EventError(problem)
        if event.time > now + shop.site.judging.future_tolerance:
            raise EventError(f"{event.kind}: this would be in the future; say when it happened")
        with store.transaction():
            known = _known(event, store)
            if known is not None:
                return Appended(known, new=False)
            remember_config(store, shop, now)
            refuse(event, shop, store, now)
            private = event.private | {"principal": person.account}
            return store.journal.append([Draft(event.kind, event.body, event.time, now, CHANNEL, event.id, private)])[0]


def _known(event: Event, store: Store) -> Entry | None:
    """The entry that says this already: the same form sent twice, or an alarm that somebody has acknowledged."""
    same = store.journal.find(event.id)
    if same is not None and (same.kind, same.body) != (event.kind, event.body):
        raise EventError(f"{event.kind}: this form has been sent before with something else in it; open its page again")
    if same is None and event.kind == "acknowledge":
        return _acknowledged(event.body["alarm"], store)
    return same


def _acknowledged(alarm: str, store: Store) -> Entry | None:
    """The acknowledgement of an alarm as it stands now, taken up by the logger yet or not."""
    transitions, said = [], None
    for entry in store.journal.entries(kinds=["alarm", "acknowledge"]):
        if entry.body["alarm"] != alarm:
            continue
        if entry.kind == "acknowledge":
            said = entry
        else:
            transitions.append(entry.body)
            if entry.body["to"] in NOT_SEEN and entry.body["cause"] != "clear":
                said = None  # it was raised anew since
    found = AlarmBook.fold(transitions).alarms.get(alarm)
    if said is None and found is not None and found.state not in (*NOT_SEEN, State.NORMAL):
        state = found.state.value.replace("_", " ")
        raise EventError(f"acknowledge: alarm {alarm!r} is {state}; there is nothing to acknowledge")
    return said
