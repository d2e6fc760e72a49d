"""The live state of a shop, read and never written: the journal followed, what is open laid out and judged, what is wrong told.

It has no clock of its own: `see(as_of)` is called for each batch of readings and as time passes, and gives the same whether it is
called often or seldom. The logger's Watch is a Looker that also writes down what follows from what it sees; a board is one that
doesn't, over a store that somebody else writes to.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from booth.alarms.book import AlarmBook
from booth.alarms.condition import Condition
from booth.alarms.states import AlarmError
from booth.alarms.transition import Transition, read_transition
from booth.asking import Asker
from booth.issuing import Issuer
from booth.judge.facts import Job
from booth.judge.gather import Gatherer
from booth.judge.ledger import Ledger
from booth.judge.trend import Heading
from booth.live_care import LiveCare
from booth.live_conditions import LiveConditions
from booth.live_jobs import LiveJob, LiveJobs, Open, Seen
from booth.live_readings import KEPT_US, LiveReadings
from booth.shop.shop import Shop
from booth.store import Entry, Reading, Store
from booth.telling import AFTER_CLOSING_US, Teller, ToldEntry

NO_FACTS = ("alarm", "finding", "acknowledge", "shelve", "gap", "logger-start", "logger-stop", "retention", "clock-step")
"""Kinds of entry that change nothing about what was done."""

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Told:
    """The jobs as far as the journal knows them, and what the instruments tell of them beyond it."""

    known: list[Open]
    entries: dict[str, list[ToldEntry]]  # by vehicle


@dataclass(frozen=True)
class Sight:
    """What was seen at a moment: every job that isn't done with, with its findings, and all that is wrong now."""

    as_of: int
    judged: list[tuple[LiveJob, list[Seen]]]
    conditions: list[Condition]


class Looker:
    """The ledger, the alarm book as journalled, and the findings of what is open. It appends nothing to the store.

    `see` refreshes `ledger`, `book`, `jobs` (by vehicle) and `seen` (by vehicle and requirement). Readings that were committed
    since go in by `add`.
    """

    def __init__(self, shop: Shop, store: Store, now: int) -> None:
        self.shop, self.store = shop, store
        self.ledger = Ledger()
        self.book = AlarmBook()
        self.readings = LiveReadings(store.readings, now - KEPT_US)
        self.seen: dict[tuple[str, str], Seen] = {}
        self.jobs: dict[str, Job] = {}
        self._live = LiveJobs(shop, store, self.ledger, self.readings)
        self._teller = Teller(shop, self.ledger, self.readings, self._live.shop_of)
        self._asker = Asker(shop, self.ledger, self.readings, self._live.shop_of)
        self._issuer = Issuer(store, shop.site.judging.allowed_lateness)
        self._conditions = LiveConditions(shop, self.readings)
        self._care = LiveCare(shop)
        self._read_to = 0
        self._ahead: list[Entry] = []  # about moments that haven't come yet
        self._told_of_alarms: list[Transition] = []  # read, and not in the book yet
        self.follow(now)

    def add(self, readings: tuple[Reading, ...]) -> None:
        """Readings that were just committed."""
        earliest = self.readings.add(readings)
        if earliest is not None:
            self._live.forget_final(earliest)
            self._issuer.doubt(earliest)

    def see(self, as_of: int) -> Sight:
        """Follow the journal and judge what is open, as of a moment. Nothing is written."""
        self.readings.forget_before(as_of - KEPT_US)
        self.follow(as_of)
        return self._judged(self._told(as_of), as_of)

    @property
    def headings(self) -> Mapping[tuple[str, str, int, int], Heading | None]:
        """Where measures were going: by vehicle, requirement, start of the step, and moment."""
        return self._conditions.headings

    def follow(self, as_of: int) -> None:
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
        if self._told_of_alarms:
            self.book, problems = self.book.after_all(self._told_of_alarms)
            self._told_of_alarms = []
            for problem in problems:
                log.error("a journal entry is left out: %s", problem)

    def _hear(self, entry: Entry) -> None:
        if entry.kind == "alarm":
            self._hear_alarm(entry)
        elif entry.kind == "finding":
            self._issuer.hear(entry)
        elif entry.kind not in NO_FACTS:
            self.ledger.add(entry)
            self._live.hear(entry)
            self._care.hear(entry)

    def _hear_alarm(self, entry: Entry) -> None:
        try:
            self._told_of_alarms.append(read_transition(entry.body, entry.private))
        except AlarmError as problem:
            log.error("journal entry %d is left out: %s", entry.seq, problem)

    def _told(self, as_of: int) -> Told:
        known = list(self._live.known())
        return Told(known, self._teller.all(known, as_of))

    def _judged(self, told: Told, as_of: int) -> Sight:
        judged = self._judge(self._live.laid_out(told.known, told.entries), as_of)
        of_jobs = [*self._conditions.of(judged, self._live, as_of), *self._asker.questions(told.known, as_of)]
        return Sight(as_of, judged, [*of_jobs, *self._teller.air_hazards(as_of), *self._care.conditions(as_of)])

    def _judge(self, live_jobs: Iterable[LiveJob], as_of: int) -> list[tuple[LiveJob, list[Seen]]]:
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
