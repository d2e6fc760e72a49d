"""Everything decoded goes through here into the store, in one commit, and only then is it acknowledged or judged."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from booth.readers.received import EventIn, Outcome, QuarantinedIn, ReadingIn, SessionLost
from booth.shop.events import EventError, read_event
from booth.shop.shop import Shop
from booth.store import Draft, Entry, Quarantined, Reading, Store, Stored
from booth.times import format_time


@dataclass(frozen=True)
class Taken:
    """What became of a batch. Every outcome is in exactly one of the counts."""

    readings: tuple[Reading, ...]
    stored: Stored
    entries: tuple[Entry, ...]
    repeated_events: int
    quarantined: int


def take(store: Store, outcomes: Iterable[Outcome | SessionLost], now: int, channel: str) -> Taken:
    """Store a batch, in one commit. `now` is when it is recorded; `channel` says how it came (mqtt, replay).

    A reading arrives when it is kept, not when the broker handed it over: what was judged and written down while it still waited
    didn't know it, and `known_by` must tell the two apart.
    """
    readings, drafts, refused = [], [], []
    for outcome in outcomes:
        if isinstance(outcome, ReadingIn):
            readings.append(_reading(outcome, now))
        elif isinstance(outcome, EventIn):
            draft = _draft(outcome, now, channel)
            (drafts if isinstance(draft, Draft) else refused).append(draft)
        elif isinstance(outcome, SessionLost):
            drafts.append(_gap(outcome, now))
        elif isinstance(outcome, QuarantinedIn):
            refused.append(Quarantined(*_fields(outcome)))
    with store.transaction():
        stored = store.readings.append(readings) if readings else Stored(0, 0, 0)
        appended = store.journal.append(drafts)
        if refused:
            store.quarantine.append(refused)
    new = tuple(one.entry for one in appended if one.new)
    return Taken(tuple(readings), stored, new, len(appended) - len(new), len(refused))


def remember_config(store: Store, shop: Shop, now: int) -> None:
    """Journal the configuration as full text with its hash, when it isn't the one that is in force already."""
    if newest_config(store) != shop.sha256:
        body = {"sha256": shop.sha256, "files": dict(shop.files)}
        store.journal.append([Draft("config", body, now, now, "logger")])


def newest_config(store: Store) -> str | None:
    """The hash of the configuration that was written into the journal last; None where none was."""
    last = None
    for entry in store.journal.entries(kinds=["config"]):
        last = entry.body["sha256"]
    return last


def _reading(outcome: ReadingIn, now: int) -> Reading:
    return Reading(
        outcome.point,
        outcome.time,
        now,
        outcome.sent,
        outcome.unit,
        outcome.value,
        outcome.mapping,
        outcome.quality,
    )


def _draft(outcome: EventIn, now: int, channel: str) -> Draft | Quarantined:
    try:
        event = read_event(outcome.event, outcome.booth, outcome.arrived)
    except EventError as problem:
        return Quarantined(outcome.arrived, channel, outcome.origin, "bad_event", f"{problem}.", repr(outcome.event).encode())
    return Draft(event.kind, event.body, outcome.time, now, channel, event.id, event.private)


def _gap(lost: SessionLost, now: int) -> Draft:
    """A broker had forgotten us: what came in between may be missing, and the journal says so."""
    body = {"since": format_time(lost.since), "until": format_time(lost.arrived)}
    if lost.broker:
        body["broker"] = lost.broker
    return Draft("gap", body, lost.since, now, "logger")


def _fields(outcome: QuarantinedIn) -> tuple:
    return outcome.arrived, outcome.reader, outcome.origin, outcome.reason, outcome.sentence, outcome.payload
