"""What an event entered by hand must agree with: the journal it goes into. Over MQTT nobody is there to hear of it."""

from __future__ import annotations

from booth.alarms.book import AlarmBook
from booth.judge.ledger import Ledger
from booth.reports.judged import judge_vehicle
from booth.shop.events import Event, EventError
from booth.shop.shop import Shop
from booth.store import Store


def refuse(event: Event, shop: Shop, store: Store, now: int) -> None:
    """Raises EventError for a decision by the wrong person, and for an alarm, entry or requirement that isn't there."""
    if event.kind in ("concession", "release"):
        _decision(event, store)
    if event.kind == "concession":
        _requirement(event, shop, store, now)
    if event.kind in ("acknowledge", "shelve"):
        _alarm(event, store)
    if event.kind in ("correction", "not-a-coat") and store.journal.find(event.body["corrects"]) is None:
        raise EventError(
            f"{event.kind}: there is no entry {event.body['corrects']} in the journal; write the id of the one that it corrects"
        )


def _decision(event: Event, store: Store) -> None:
    """A concession or release isn't given by the one who sprayed the van."""
    job = Ledger(store.journal.entries()).job(event.body["vehicle"])
    if job is None:
        raise EventError(f"{event.kind}: no job was opened for {event.body['vehicle']!r}; write the number as it was opened")
    if event.private.get("by") in job.sprayers:
        raise EventError(f"{event.kind}: {event.private['by']} sprayed this van; it takes somebody else")


def _requirement(event: Event, shop: Shop, store: Store, now: int) -> None:
    assessment = judge_vehicle(shop, store, event.body["vehicle"], max(now, event.time)).assessment
    findings = {one.requirement: one for round_ in assessment.rounds for one in round_.findings}
    wanted = event.body["requirement"]
    if wanted not in findings:
        wrong = [name for name, one in findings.items() if one.verdict.value != "met"]
        raise EventError(
            f"concession: {wanted!r} is not a requirement of {event.body['vehicle']}; missed or unproven are: "
            f"{', '.join(wrong) or 'none'}"
        )


def _alarm(event: Event, store: Store) -> None:
    book = AlarmBook.fold(entry.body for entry in store.journal.entries(kinds=["alarm"]))
    if event.body["alarm"] not in book.alarms:
        standing = ", ".join(book.standing()) or "none"
        raise EventError(f"{event.kind}: there is no alarm {event.body['alarm']!r}; standing now: {standing}")
    if event.kind == "shelve" and book.alarms[event.body["alarm"]].condition.immediate:
        raise EventError("shelve: this alarm is about airflow or a hazard and can't be shelved; put the cause right")
