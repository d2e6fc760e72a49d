"""Live judging: what the newest readings and the passing of time mean for the open jobs, as alarms and journal entries.

It has no clock of its own: `look(as_of)` is called for each batch of readings and as time passes, and gives the same whether
it is called often or seldom, because every condition carries the moment since when it is true. Everything in here is a fold over
the store, the alarm book too: an alarm has changed when the journal says so. So a new Watch over the same store goes on where the
last one stopped.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable

from booth.alarms.advance import Delay, Delays, advance
from booth.alarms.book import AlarmBook, Change, acknowledge, settle, shelve
from booth.alarms.condition import Condition
from booth.alarms.states import STANDING, AlarmError
from booth.alarms.transition import Transition, read_transition, transition_body, transition_private
from booth.issuing import Issuer
from booth.judge.facts import Job
from booth.judge.finding import Verdict
from booth.judge.gather import Gatherer
from booth.judge.ledger import Ledger
from booth.live_conditions import LiveConditions, remedy_of
from booth.live_jobs import LiveJob, LiveJobs, Seen
from booth.live_readings import KEPT_US, LiveReadings
from booth.shop.shop import Shop
from booth.store import Draft, Entry, Reading, Store
from booth.telling import AFTER_CLOSING_US, Teller
from booth.times import parse_time

NO_FACTS = ("alarm", "finding", "acknowledge", "shelve", "gap", "logger-start", "logger-stop")
"""Kinds of entry that change nothing about what was done."""

log = logging.getLogger(__name__)


class Watch:
    """The live state: the ledger, the alarm book, and the findings of what is open."""

    def __init__(self, shop: Shop, store: Store, now: int) -> None:
        self.shop, self.store = shop, store
        self.ledger = Ledger()
        self.book = AlarmBook()
        self.readings = LiveReadings(store.readings, now - KEPT_US)
        self.seen: dict[tuple[str, str], Seen] = {}
        self.jobs: dict[str, Job] = {}
        times = shop.site.alarms
        delay = Delay(times.on_delay, times.off_delay)
        self._delays = Delays(delay, delay, Delay(0, times.off_delay))
        self._live = LiveJobs(shop, store, self.ledger, self.readings)
        self._teller = Teller(shop, self.ledger, self.readings)
        self._issuer = Issuer(store, shop.site.judging.allowed_lateness)
        self._conditions = LiveConditions(shop, self.readings)
        self._read_to = 0
        self._ahead: list[Entry] = []  # about moments that haven't come yet
        self._requests: list[Entry] = []  # to acknowledge or shelve, not answered yet
        self._follow(now)

    def add(self, readings: tuple[Reading, ...]) -> None:
        """Readings that were just committed."""
        earliest = self.readings.add(readings)
        if earliest is not None:
            self._live.forget_final(earliest)
            self._issuer.doubt(earliest)

    def look(self, as_of: int) -> list[Transition]:
        """Follow the journal, judge what is open, move the alarms to `as_of`. Returns the transitions, journalled already.

        Raises StoreError when the journal can't be written; then no alarm has moved, and the next look tries again.
        """
        self.readings.forget_before(as_of - KEPT_US)
        self._follow(as_of)
        known = list(self._live.known())
        told = self._teller.all(known, as_of)
        settled = self._teller.settled(known, told, as_of)
        if settled:
            self._append(settled, as_of)
            known = list(self._live.known())
            told = self._teller.all(known, as_of)
        judged = self._judge(self._live.laid_out(known, told), as_of)
        conditions = [*self._conditions.of(judged, self._live, as_of), *self._teller.air_hazards(as_of)]
        self._append(self._issuer.drafts(judged, as_of), as_of)
        return self._move(conditions, as_of)

    def _follow(self, as_of: int) -> None:
        """Read what was appended to the journal since, by whomever. What is about the future waits until it comes."""
        if self.store.journal.head().entries != self._read_to:
            for entry in self.store.journal.entries(after=self._read_to):
                self._read_to = entry.seq
                waits = entry.effective > as_of and entry.kind not in NO_FACTS and entry.kind != "config"
                self._ahead.append(entry) if waits else self._hear(entry)
        if self._ahead:
            due = [entry for entry in self._ahead if entry.effective <= as_of]
            self._ahead = [entry for entry in self._ahead if entry.effective > as_of]
            for entry in due:
                self._hear(entry)

    def _hear(self, entry: Entry) -> None:
        if entry.kind == "alarm":
            self._fold_alarm(entry)
        elif entry.kind == "finding":
            self._issuer.hear(entry)
        elif entry.kind in ("acknowledge", "shelve"):
            self._requests.append(entry)
        elif entry.kind not in NO_FACTS:
            self.ledger.add(entry)
            self._live.hear(entry)

    def _fold_alarm(self, entry: Entry) -> None:
        try:
            self.book = self.book.after(read_transition(entry.body, entry.private))
        except AlarmError as problem:
            log.error("journal entry %d is left out: %s", entry.seq, problem)
        # What was asked for before this entry was answered by it, or refused (see _move).
        self._requests = [one for one in self._requests if one.seq > entry.seq]

    def _judge(self, live_jobs: list[LiveJob], as_of: int) -> list[tuple[LiveJob, list[Seen]]]:
        """The findings of every job that isn't done with."""
        self.seen, self.jobs = {}, {}
        judged, gatherers = [], {}  # jobs under the same configuration share what was fetched
        for live in live_jobs:
            closed, vehicle = live.job.round.closed, live.job.vehicle
            if closed is not None and as_of - closed > AFTER_CLOSING_US and self._issuer.is_done(live):
                self._live.sleep(vehicle)
                continue
            gatherer = gatherers.setdefault(id(live.shop), Gatherer(live.shop, self.ledger, self.readings, as_of))
            findings = list(self._live.judged(live, gatherer, as_of))
            self.jobs[vehicle] = live.job
            self.seen |= {(vehicle, seen.requirement.id): seen for seen in findings}
            judged.append((live, findings))
        return judged

    def _move(self, conditions: Iterable[Condition], as_of: int) -> list[Transition]:
        """Work out and journal what changes about the alarms.

        In one transaction, so that no entry of another process comes between what was read and what follows from it: a request
        that stands before an alarm's entry in the journal is one that was answered with it or refused.
        """
        moves, answered = self._moves(conditions, as_of), self._read_to
        if moves:
            with self.store.transaction():
                self._follow(as_of)
                moves, answered = self._moves(conditions, as_of), self._read_to
                self.store.journal.append([_alarm_draft(move, as_of) for move in moves])
            self._follow(as_of)
        self._requests = [one for one in self._requests if one.seq > answered]
        return moves

    def _moves(self, conditions: Iterable[Condition], as_of: int) -> list[Transition]:
        book, answered = self._answered(self.book, as_of)
        book, dealt_with = self._dealt_with(book, as_of)
        _, advanced = advance(book, conditions, as_of, self._delays)
        return [*answered, *dealt_with, *advanced]

    def _answered(self, book: AlarmBook, as_of: int) -> Change:
        """What people asked for: acknowledge, shelve. Asking for what can't be done changes nothing; the entry stands."""
        moves: list[Transition] = []
        for entry in self._requests:
            by, at = entry.private.get("by") or "unknown", min(entry.effective, as_of)
            try:
                if entry.kind == "acknowledge":
                    book, made = acknowledge(book, entry.body["alarm"], at, by)
                else:
                    book, made = shelve(book, entry.body["alarm"], parse_time(entry.body["until"]), at, by)
                moves += made
            except AlarmError:
                continue
        return book, moves

    def _dealt_with(self, book: AlarmBook, as_of: int) -> Change:
        """Latched alarms whose cause is dealt with: the round is closed or remedied, or later evidence took the miss back."""
        moves: list[Transition] = []
        for alarm_id, alarm in list(book.alarms.items()):
            if alarm.condition.latched and alarm.state in STANDING:
                at = self._over_since(alarm.condition, as_of)
                if at is not None:
                    book, made = settle(book, alarm_id, at, "logger")
                    moves += made
        return book, moves

    def _over_since(self, condition: Condition, as_of: int) -> int | None:
        """Since when a miss needs nobody any more; None while it does, and while its job or its rule can't be read."""
        vehicle = condition.vehicle or ""
        if vehicle in self._live.unreadable or (vehicle, condition.requirement) in self._live.faults:
            return None
        job = self.jobs.get(vehicle)
        if job is None or job.round.number != condition.round:
            return as_of
        if job.round.closed is not None:
            return job.round.closed
        seen = self.seen.get((vehicle, condition.requirement))
        if seen is None or seen.finding.verdict is not Verdict.MISSED:
            return as_of
        check = remedy_of(seen)
        return check.time if check else None

    def _append(self, drafts: list[Draft], as_of: int) -> None:
        if drafts:
            self.store.journal.append(drafts)
            self._follow(as_of)


def _alarm_draft(move: Transition, as_of: int) -> Draft:
    body = transition_body(move)
    if move.condition.vehicle:
        body["vehicle"] = move.condition.vehicle
    return Draft("alarm", body, move.at, as_of, "logger", private=transition_private(move))
