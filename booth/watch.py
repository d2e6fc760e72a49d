"""Live judging written down: what the newest readings and the passing of time mean, as alarms and journal entries.

`look(as_of)` gives the same whether it is called often or seldom, because every condition carries the moment since when it is
true. Everything in here is a fold over the store, the alarm book too: an alarm has changed when the journal says so. So a new
Watch over the same store goes on where the last one stopped. What is only read stands in booth.looker.
"""

from __future__ import annotations

from collections.abc import Iterable

from booth.alarms.advance import Delay, Delays, advance
from booth.alarms.book import AlarmBook, Change, acknowledge, settle, shelve
from booth.alarms.condition import Condition
from booth.alarms.states import STANDING, AlarmError
from booth.alarms.transition import Transition, transition_body, transition_private
from booth.diagnosing import Diagnoser
from booth.judge.finding import Verdict
from booth.live_conditions import remedy_of
from booth.live_readings import KEPT_US
from booth.looker import Looker
from booth.shop.shop import Shop
from booth.store import Draft, Entry, Reading, Store
from booth.times import parse_time


class Watch(Looker):
    """A Looker that writes: the steps that the instruments told of, the findings at each step's end, and what alarms do."""

    def __init__(self, shop: Shop, store: Store, now: int) -> None:
        self._requests: list[Entry] = []  # to acknowledge or shelve, not answered yet
        self._written: int | None = None  # when an earlier logger last wrote anything down
        times = shop.site.alarms
        delay = Delay(times.on_delay, times.off_delay)
        self._delays = Delays(delay, delay, Delay(0, times.off_delay))
        super().__init__(shop, store, now)
        self._diagnoser = Diagnoser(shop, store, self.ledger, self._written)

    def add(self, readings: tuple[Reading, ...]) -> None:
        super().add(readings)
        self._diagnoser.add(readings)

    def look(self, as_of: int) -> list[Transition]:
        """Follow the journal, judge what is open, move the alarms to `as_of`. Returns the transitions, journalled already.

        Raises StoreError when the journal can't be written; then no alarm has moved, and the next look tries again.
        """
        self.readings.forget_before(as_of - KEPT_US)
        self.follow(as_of)
        self._append(self._diagnoser.drafts(as_of), as_of)
        self._diagnoser.written()
        told = self._told(as_of)
        settled = self._teller.settled(told.known, told.entries, as_of)
        if settled:
            self._append(settled, as_of)
            told = self._told(as_of)
        sight = self._judged(told, as_of)
        self._append(self._issuer.drafts(sight.judged, as_of), as_of)
        self._issuer.written()
        return self._move(sight.conditions, as_of)

    def would_be(self, as_of: int) -> AlarmBook:
        """The alarms as they would stand if the journal could be written, so that a full disk silences none."""
        book = self.book
        for move in self._moves(self.see(as_of).conditions, as_of):
            book = book.after(move)
        return book

    def _hear(self, entry: Entry) -> None:
        super()._hear(entry)
        if entry.channel == "logger" and entry.kind not in ("logger-start", "config", "gap"):
            self._written = entry.recorded
        if entry.kind in ("acknowledge", "shelve"):
            self._requests.append(entry)
        elif entry.kind == "alarm":
            # What was asked for before this entry was answered by it, or refused (see _move).
            self._requests = [one for one in self._requests if one.seq > entry.seq]

    def _move(self, conditions: Iterable[Condition], as_of: int) -> list[Transition]:
        """Work out and journal what changes about the alarms.

        In one transaction, so that no entry of another process comes between what was read and what follows from it: a request
        that stands before an alarm's entry in the journal is one that was answered with it or refused.
        """
        moves, answered = self._moves(conditions, as_of), self._read_to
        if moves:
            with self.store.transaction():
                self.follow(as_of)
                moves, answered = self._moves(conditions, as_of), self._read_to
                self.store.journal.append([_alarm_draft(move, as_of) for move in moves])
            self.follow(as_of)
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
            self.follow(as_of)


def _alarm_draft(move: Transition, as_of: int) -> Draft:
    body = transition_body(move)
    if move.condition.vehicle:
        body["vehicle"] = move.condition.vehicle
    return Draft("alarm", body, move.at, as_of, "logger", private=transition_private(move))
