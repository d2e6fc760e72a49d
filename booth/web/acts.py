"""What people do at the board, into the journal under their name. Twice the same is once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request

from booth.alarms.book import AlarmBook
from booth.alarms.states import State
from booth.event_checks import matters, refuse
from booth.intake import newest_config, remember_config
from booth.shop.admission import unknown_name
from booth.shop.care_shapes import OF_A_PERSON
from booth.shop.events import Event, EventError, read_event
from booth.store import Appended, Draft, Entry, Store
from booth.web.board import OUTDATED, Board
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
    return (await act_together(request, [event]))[0]


async def act_together(request: Request, events: list[dict[str, Any]]) -> list[Appended]:
    """Several events of one touch: all of them are kept, or none."""
    person = request.state.person
    if person is None or any(person.role not in MAY.get(str(event.get("event")), frozenset()) for event in events):
        raise HTTPException(403, "Your account may not do this.")
    return await run_in_threadpool(append_together, request.app.state.board, person, events)


def append(board: Board, person: Person, raw: dict[str, Any]) -> Appended:
    """One event, for a thread that may wait."""
    return append_together(board, person, [raw])[0]


def append_together(board: Board, person: Person, raws: Iterable[dict[str, Any]]) -> list[Appended]:
    """The same for several. What the journal says of them is looked up before it is locked, since that may take a while and
    the logger must go on writing; when something came in between that matters, it is looked up again. So two screens that do
    the same at once make one entry.
    """
    with board.store() as store:
        now = board.moment(store)
        events = [_read(board, person, raw, now) for raw in raws]
        while True:
            seen = store.journal.head().entries
            known = [_checked(event, board, store, now) for event in events]
            with store.transaction():
                if not any(matters(entry, events) for entry in store.journal.entries(after=seen)):
                    return _written(board, store, person, events, known, now)


def _read(board: Board, person: Person, raw: dict[str, Any], now: int) -> Event:
    """The event under this person's name; a training or a fit test stays that of the one who had it."""
    by = raw.get("by") if str(raw.get("event")) in OF_A_PERSON else person.by
    event = read_event(raw | {"by": by}, raw.get("booth"), now)
    problem = unknown_name(event, board.shop)
    if problem:
        raise EventError(problem)
    if event.time > now + board.shop.site.judging.future_tolerance:
        raise EventError(f"{event.kind}: this would be in the future; say when it happened")
    return event


def _checked(event: Event, board: Board, store: Store, now: int) -> Entry | None:
    """The entry that says this already, or None where it may be written. Raises EventError where it may not."""
    known = _known(event, store)
    if known is None:
        if board.is_outdated(store):
            raise EventError(f"{event.kind}: nothing was kept. {OUTDATED}")
        refuse(event, board.shop, store, now)
    return known


def _written(
    board: Board, store: Store, person: Person, events: list[Event], known: list[Entry | None], now: int
) -> list[Appended]:
    if newest_config(store) is None:
        remember_config(store, board.shop, now)
    drafts = [
        Draft(event.kind, event.body, event.time, now, CHANNEL, event.id, event.private | {"principal": person.account})
        for event, entry in zip(events, known, strict=True)
        if entry is None
    ]
    made = iter(store.journal.append(drafts))
    return [next(made) if entry is None else Appended(entry, new=False) for entry in known]


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
