"""What an event entered by hand must agree with: the journal it goes into. Over MQTT nobody is there to hear of it."""

from __future__ import annotations

from collections.abc import Iterable

from booth.alarms.book import AlarmBook
from booth.judge.facts import is_among
from booth.judge.ledger import Ledger
from booth.reports.judged import judge_in
from booth.shop.event_shapes import EVENTS
from booth.shop.events import Event, EventError
from booth.shop.shop import Shop
from booth.store import Entry, Store

DECISIONS = ("concession", "release")


def refuse(event: Event, shop: Shop, store: Store, now: int) -> None:
    """Raises EventError for a decision by the wrong person, and for an alarm, entry or requirement that isn't there.

    It reads as much of the journal as it needs, which may be all of it: not for inside of a transaction.
    """
    if event.kind in DECISIONS:
        ledger = Ledger(store.journal.entries())
        _decision(event, ledger)
        if event.kind == "concession":
            _requirement(event, ledger, shop, store, now)
    if event.kind in ("acknowledge", "shelve"):
        _alarm(event, store)
    corrected = event.body.get("corrects")
    if corrected is not None and store.journal.find(corrected) is None:
        raise EventError(f"{event.kind}: there is no entry {corrected} in the journal; write the id of the one that it corrects")


def matters(entry: Entry, events: Iterable[Event]) -> bool:
    """Whether an entry that came after `refuse` may change what it found of one of these events."""
    return entry.kind == "config" or any(_matters(entry, event) for event in events)


def _matters(entry: Entry, event: Event) -> bool:
    same_alarm = "alarm" in event.body and entry.body.get("alarm") == event.body["alarm"]
    return entry.id == event.id or same_alarm or (event.kind in DECISIONS and entry.kind in EVENTS)


def _decision(event: Event, ledger: Ledger) -> None:
    """A concession or release isn't given by the one who sprayed the van."""
    job = ledger.job(event.body["vehicle"])
    if job is None:
        raise EventError(f"{event.kind}: no job was opened for {event.body['vehicle']!r}; write the number as it was opened")
    if is_among(event.private.get("by"), job.sprayers):
        raise EventError(f"{event.kind}: {event.private['by']} sprayed this van; it takes somebody else")


def _requirement(event: Event, ledger: Ledger, shop: Shop, store: Store, now: int) -> None:
    assessment = judge_in(ledger, shop, store, event.body["vehicle"], max(now, event.time)).assessment
    findings = {one.requirement: one for round_ in assessment.rounds for one in round_.findings}
    wanted = event.body["requirement"]
    if wanted not in findings:
        wrong = [name for name, one in findings.items() if one.verdict.value != "met"]
        raise EventError(
            f"concession: {wanted!r} is not a requirement of {event.body['vehicle']}; missed or unproven are: "
            f"{', '.join(wrong) or 'none'}"
        )


def _alarm(event: Event, store: Store) -> None:
    wanted = event.body["alarm"]
    bodies = [entry.body for entry in store.journal.entries(kinds=["alarm"])]
    alarm = AlarmBook.fold(body for body in bodies if body["alarm"] == wanted).alarms.get(wanted)
    if alarm is None:
        standing = ", ".join(AlarmBook.fold(bodies).standing()) or "none"
        raise EventError(f"{event.kind}: there is no alarm {wanted!r}; standing now: {standing}")
    if event.kind == "shelve" and alarm.condition.immediate:
        raise EventError("shelve: this alarm is about airflow or a hazard and can't be shelved; put the cause right")
