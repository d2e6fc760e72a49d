"""What people do at the board is in the journal under their name, once."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest

from booth.alarms.states import State
from booth.shop.event_shapes import EVENTS
from booth.shop.events import EventError
from booth.store import Appended, Draft, Entry
from booth.web.acts import MAY, append
from booth.web.board import Board
from booth.web.pages import ROLES, Person
from tests.app.plants import VAN

PAINTER = Person("account-7", "Painter Seven", "painter", "badge-7")
SUPERVISOR = Person("account-1", "Sam Supervisor", "supervisor")


@pytest.fixture
def journal(board: Board) -> Callable[..., list[Entry]]:
    def entries(*kinds: str) -> list[Entry]:
        with board.store() as store:
            return list(store.journal.entries(kinds=kinds))

    return entries


@pytest.fixture
def alarm(board: Board) -> str:
    """An alarm that nobody has acknowledged: one of the shift, raised once more."""
    with board.store() as store:
        old = next(one for one in store.journal.entries(kinds=["alarm"]) if one.body["to"] == State.UNACKNOWLEDGED)
        now = board.moment(store)
        body = {**old.body, "alarm": "a-made-up-alarm", "from": "normal", "cause": "appear"}
        body["condition"] = {**body["condition"], "id": "a-made-up-alarm"}
        store.journal.append([Draft("alarm", body, now, now, "logger")])
    return "a-made-up-alarm"


def acknowledge(alarm: str, id_: str | None = None) -> dict:
    return {"event": "acknowledge", "alarm": alarm, "booth": "south", "id": id_ or str(uuid4())}


def test_an_act_is_written_under_the_persons_name(board: Board, journal, alarm: str) -> None:
    append(board, PAINTER, acknowledge(alarm))
    entry = journal("acknowledge")[-1]
    assert entry.channel == "board" and entry.body == {"alarm": alarm, "booth": "south"}
    assert entry.private == {"by": "badge-7", "principal": "account-7"}


def test_nobody_acts_under_another_name(board: Board, journal, alarm: str) -> None:
    append(board, PAINTER, acknowledge(alarm) | {"by": "Sam Supervisor"})
    assert journal("acknowledge")[-1].private["by"] == "badge-7"


def test_a_form_sent_twice_is_one_entry(board: Board, journal) -> None:
    note = {"event": "note", "vehicle": VAN, "text": "masked again at the left sill", "id": str(uuid4())}
    first, second = append(board, PAINTER, note), append(board, PAINTER, note)
    assert first.new and not second.new and first.entry.seq == second.entry.seq
    with pytest.raises(EventError, match="sent before with something else"):
        append(board, PAINTER, note | {"vehicle": "TV-9999"})


def test_two_screens_acknowledge_at_once_and_there_is_one_entry(board: Board, journal, alarm: str) -> None:
    before = len(journal("acknowledge"))
    people = [Person(f"account-{number}", f"Painter {number}", "painter", f"badge-{number}") for number in range(8)]
    with ThreadPoolExecutor(8) as pool:
        done: list[Appended] = list(pool.map(lambda one: append(board, one, acknowledge(alarm)), people))
    assert sum(one.new for one in done) == 1
    assert len({one.entry.id for one in done}) == 1
    assert len(journal("acknowledge")) == before + 1


def test_raised_anew_it_is_acknowledged_anew(board: Board, journal, alarm: str) -> None:
    append(board, PAINTER, acknowledge(alarm))
    raised = next(one for one in reversed(journal("alarm")) if one.body["alarm"] == alarm)
    with board.store() as store:
        now = board.moment(store)
        steps = [("unacknowledged", "acknowledged", "acknowledge"), ("acknowledged", "unacknowledged", "worsen")]
        for before, after, cause in steps:
            body = {**raised.body, "from": before, "to": after, "cause": cause}
            store.journal.append([Draft("alarm", body, now, now, "logger")])
    assert append(board, PAINTER, acknowledge(alarm)).new


@pytest.mark.parametrize(
    ("event", "says"),
    [
        ({"event": "acknowledge", "alarm": "no-such-alarm"}, "no alarm 'no-such-alarm'"),
        ({"event": "step-start", "vehicle": VAN, "step": "no-such-step", "booth": "south"}, "not a step of this shop"),
        ({"event": "note", "vehicle": VAN, "text": "  "}, "needs a text"),
        ({"event": "note", "vehicle": VAN, "text": "x", "time": "2099-01-01T00:00:00Z"}, "in the future"),
        ({"event": "concession", "vehicle": VAN, "requirement": "nothing", "reason": "why not"}, "not a requirement"),
        ({"event": "sing"}, "is not known"),
    ],
)
def test_what_cannot_be_taken_is_told_why(board: Board, journal, event: dict, says: str) -> None:
    before = len(journal(*EVENTS))
    with pytest.raises(EventError, match=says):
        append(board, SUPERVISOR, event)
    assert len(journal(*EVENTS)) == before


def test_whoever_sprayed_the_van_does_not_release_it(board: Board, journal) -> None:
    sprayer = next(one.private["by"] for one in journal("step-start") if one.body["vehicle"] == VAN and one.private.get("by"))
    with pytest.raises(EventError, match="sprayed this van"):
        append(board, Person("account-x", sprayer, "supervisor"), {"event": "release", "vehicle": VAN, "reason": "looks fine"})


TABLE = {
    **dict.fromkeys(("step-start", "step-end", "hold", "resume", "handover", "load", "check", "mix", "film", "note"), "PS"),
    **{"not-a-coat": "PS", "acknowledge": "PSEM", "calibration": "SM"},
    **dict.fromkeys(("concession", "correction", "release", "reopen", "job-open", "job-close", "shelve"), "S"),
    **dict.fromkeys(("review", "spray-training", "fit-test", "air-sample", "purchase"), "SE"),
    **dict.fromkeys(
        ("filter-changed", "grid", "booth-examined", "interlock-tested", "gauge-tested", "alarm-tested", "gun-type"), "SEM"
    ),
    **dict.fromkeys(("gun-cleaned", "used"), "PSEM"),
}
"""Written down a second time on purpose: who may say what (Painter, Supervisor, EHS, Maintenance)."""


@pytest.mark.parametrize("kind", EVENTS)
def test_who_may_say_what(kind: str) -> None:
    assert kind in TABLE, f"say in this table who may enter {kind} at the board"
    assert {role for role in ROLES if role[0].upper() in TABLE[kind]} == set(MAY[kind])
