"""What people do at the board is in the journal under their name, once."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from html import unescape
from uuid import uuid4

import pytest

from booth.alarms.states import State
from booth.intake import remember_config
from booth.judge.ledger import Ledger
from booth.reports.judged import judge_vehicle
from booth.shop.event_shapes import EVENTS
from booth.shop.events import EventError
from booth.shop.shop import load_shop
from booth.store import Appended, Draft, Entry, database
from booth.web import acts
from booth.web.acts import MAY, append
from booth.web.board import OUTDATED, Board
from booth.web.pages import ROLES, Person
from tests.app.plants import VAN
from tests.web.conftest import csrf_of

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


@pytest.mark.parametrize("spelling", [str.upper, lambda name: f" {name}  "], ids=["in capitals", "with spaces"])
def test_another_spelling_is_the_same_person(board: Board, journal, spelling: Callable[[str], str]) -> None:
    sprayer = next(one.private["by"] for one in journal("step-start") if one.body["vehicle"] == VAN and one.private.get("by"))
    somebody = Person("account-x", spelling(sprayer), "supervisor")
    with pytest.raises(EventError, match="sprayed this van"):
        append(board, somebody, {"event": "release", "vehicle": VAN, "reason": "looks fine"})


def test_another_spelling_releases_nothing_either(board: Board, journal) -> None:
    """An entry that came otherwise than over the board stands in the record and counts for nothing."""
    sprayer = next(one.private["by"] for one in journal("step-start") if one.body["vehicle"] == VAN and one.private.get("by"))
    with board.store() as store:
        now = board.moment(store)
        job = Ledger(store.journal.entries()).job(VAN)
        findings = judge_vehicle(board.shop, store, VAN, now).assessment.rounds[-1].findings
        wanting = [one.requirement for one in findings if one.verdict != "met"]
        assert sprayer in job.sprayers
        said = [("concession", {"requirement": one}) for one in wanting] + [("release", {})]
        private = {"by": sprayer.upper(), "reason": "looks fine"}
        store.journal.append([Draft(kind, {"vehicle": VAN, **body}, now, now, "cli", private=private) for kind, body in said])
        assert not judge_vehicle(board.shop, store, VAN, now).assessment.rounds[-1].outcome.startswith("released")


def test_the_logger_goes_on_writing_while_the_journal_is_looked_up(board: Board, monkeypatch: pytest.MonkeyPatch) -> None:
    """The look at the journal may take seconds after some years; it isn't behind the write lock."""
    monkeypatch.setattr(database, "BUSY_TIMEOUT_S", 0.1)
    real = acts.refuse

    def looked(event, shop, store, now) -> None:
        real(event, shop, store, now)
        with board.store() as logger:
            logger.journal.append([Draft("note", {"vehicle": "TV-1"}, now, now, "mqtt", private={"text": "meanwhile"})])

    monkeypatch.setattr(acts, "refuse", looked)
    assert append(board, PAINTER, {"event": "note", "vehicle": VAN, "text": "masked again"}).new


def test_what_came_in_between_is_looked_at(board: Board, monkeypatch: pytest.MonkeyPatch, journal) -> None:
    """Somebody takes the gun just when their release is on its way."""
    real, hands = acts.refuse, []
    coat = next(one for one in journal("step-start") if one.body["vehicle"] == VAN)

    def looked(event, shop, store, now) -> None:
        real(event, shop, store, now)
        if not hands:
            hands.append(SUPERVISOR.by)
            body = {"vehicle": VAN, "step": coat.body["step"]}
            with board.store() as other:
                other.journal.append([Draft("handover", body, coat.effective + 1, now, "mqtt", private={"by": SUPERVISOR.by})])

    monkeypatch.setattr(acts, "refuse", looked)
    with pytest.raises(EventError, match="sprayed this van"):
        append(board, SUPERVISOR, {"event": "release", "vehicle": VAN, "reason": "looks fine"})
    assert not journal("release")


def test_a_board_with_an_older_configuration_puts_nothing_in_force(board: Board, journal) -> None:
    files = dict(board.shop.files)
    files["site.toml"] += "\n# a newer sheet\n"
    newer = load_shop(files)
    with board.store() as store:
        remember_config(store, newer, board.moment(store))
    before = len(journal(*EVENTS))
    with pytest.raises(EventError, match="start it again"):
        append(board, SUPERVISOR, {"event": "note", "vehicle": VAN, "text": "x"})
    assert journal("config")[-1].body["sha256"] == newer.sha256 != board.shop.sha256
    assert len(journal(*EVENTS)) == before


def test_a_board_with_an_older_configuration_says_so(board: Board, as_person) -> None:
    browser = as_person("supervisor")
    assert board.live.wait_first(30)
    assert OUTDATED not in unescape(browser.get("/records").text)
    files = dict(board.shop.files)
    files["site.toml"] += "\n# a newer sheet\n"
    seen = board.live.version
    with board.store() as store:
        remember_config(store, load_shop(files), board.moment(store))
    deadline = time.monotonic() + 120
    while not board.live.outdated and time.monotonic() < deadline:
        time.sleep(0.05)
    assert board.live.version > seen
    assert OUTDATED in unescape(browser.get("/records").text)
    assert "OTHER LIMITS ARE IN FORCE" in browser.get("/booth/south").text


def test_whose_training_it_is_stays_theirs(board: Board) -> None:
    """Respirator fit tests are each person's (29 CFR 1910.134(f)); who entered one is its principal."""
    erin = Person("account-e", "Erin Hygiene", "ehs")
    test = {"event": "fit-test", "respirator": "half mask", "valid_until": "2030-01-01T00:00:00Z"}
    entry = append(board, erin, test | {"by": "badge-8"}).entry
    assert entry.private == {"by": "badge-8", "principal": "account-e"}
    with pytest.raises(EventError, match="whose it is"):
        append(board, erin, test)


def touch(browser, **fields: str):
    page = browser.get("/booth/south")
    return browser.post("/booth/south", data={"csrf": csrf_of(page.text), **fields})


def test_a_touch_with_several_events_is_one_act(as_person, journal) -> None:
    before = len(journal(*EVENTS))
    note, wrong = {"event": "note", "vehicle": VAN, "text": "x"}, {"event": "step-start", "vehicle": VAN, "step": "no-such-step"}
    forbidden = {"event": "release", "vehicle": VAN, "reason": "x"}
    browser = as_person("painter")
    for second, status in ((wrong, 422), (forbidden, 403)):
        assert touch(browser, do=json.dumps([note, second])).status_code == status
        assert len(journal(*EVENTS)) == before
    assert touch(browser, do=json.dumps([note, note | {"text": "y"}])).status_code == 303
    assert len(journal(*EVENTS)) == before + 2


@pytest.mark.parametrize("start", [10**30, -1, True, "yesterday", 1.5])
def test_a_moment_of_no_calendar_is_refused_in_a_sentence(as_person, journal, start: object) -> None:
    before = len(journal(*EVENTS))
    told = {"confirm": "clear-1", "vehicle": VAN, "start": start, "end": None}
    answer = touch(as_person("painter"), do=json.dumps(told))
    assert answer.status_code == 422 and "open the page again" in answer.text
    assert len(journal(*EVENTS)) == before


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
