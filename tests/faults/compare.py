"""Holds a store against what was sent: each thing exactly once, nothing that nobody sent, and a chain that verifies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from booth.readers.decode import decode
from booth.readers.received import EventIn, ReadingIn
from booth.store import Store
from booth.times import parse_time
from booth.wiring import point_map
from tests.app.plants import demo_shop, final_findings
from tests.faults.plant import STORY_ENDS, Message

FAR_AHEAD = 2**55  # microseconds since 1970: nothing sent is from the future


def keys(messages: Iterable[Message]) -> set[tuple]:
    """What each message must be found as: a reading's point, time and value as sent; an event's id."""
    points, found = point_map(demo_shop()), set()
    for message in messages:
        if message.is_reading or message.is_event:
            [outcome] = decode(message.topic, message.payload, FAR_AHEAD, points)
            found.add(_key(outcome))
    return found


def _key(outcome: object) -> tuple:
    if isinstance(outcome, ReadingIn):
        return (outcome.point, outcome.time, outcome.sent)
    assert isinstance(outcome, EventIn), outcome
    return (outcome.event["id"],)


def kept(store: Store, known: Iterable[tuple]) -> Counter:
    """How often each thing is in the store. Of the journal only the ids that were sent: the logger writes its own beside them."""
    ids = {one[0] for one in known if len(one) == 1}
    found = Counter((entry.id,) for entry in store.journal.entries() if entry.id in ids)
    for held in store.readings.held():
        found.update((row.point, row.time, row.sent) for row in store.readings.rows(held.point, 0, 2**62))
    return found


def problems(folder: Path, sent: set[tuple], must_be_there: set[tuple]) -> list[str]:
    """Sentences about all that is wrong with a store, none when it is as it should be."""
    if not (folder / "booth.sqlite").is_file():
        return [f"there is no store, but {len(must_be_there)} things must be in it"] if must_be_there else []
    with Store.open(folder) as store:
        found = kept(store, sent)
        wrong = [f"{one} is there {times} times" for one, times in found.items() if times != 1]
        wrong += [f"{one} is there, but nobody sent it" for one in found.keys() - sent]
        wrong += [f"{one} was taken over and is lost" for one in must_be_there - found.keys()]
        wrong += [f"quarantined without cause: {one.sentence}" for one in store.quarantine.recent(3)]
        return [*wrong, *store.journal.verify().problems, *store.readings.verify().problems]


def missing(folder: Path, sent: Iterable[Message]) -> list[Message]:
    """Which of the messages the store doesn't have, in the order of sending."""
    if not (folder / "booth.sqlite").is_file():
        return list(sent)
    sent = list(sent)
    with Store.open(folder) as store:
        found = kept(store, keys(sent))
    return [message for message in sent if not keys([message]) & found.keys()]


def findings(folder: Path) -> dict[str, tuple]:
    """The final findings of the story's van."""
    with Store.open(folder) as store:
        return final_findings(store, as_of=STORY_ENDS)


def session_losses(folder: Path) -> list[tuple[int, int]]:
    """(since, until) of every gap that the journal has."""
    with Store.open(folder) as store:
        return [
            (parse_time(entry.body["since"]), parse_time(entry.body["until"])) for entry in store.journal.entries(kinds=["gap"])
        ]
