"""What the desk's pages keep of the journal between requests, so that none of them reads years of it anew.

It is only a fold: throw it away and the next request makes the same again. One for all threads of the board, behind a lock.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from booth.alarms.states import Event
from booth.alarms.transition import read_transition
from booth.judge.evidence import Evidence
from booth.judge.facts import Job
from booth.judge.finding import Verdict
from booth.judge.ledger import Ledger
from booth.judge.rules.checks import judge_check
from booth.shop.promises import promise_of
from booth.shop.shop import Shop
from booth.store import Entry, Store
from booth.web.desk.appearances import AT_REST, Appearance
from booth.web.desk.record_index import RecordIndex


class Memory:
    """Journal followed into a ledger, an index of records, and every appearance of every alarm."""

    def __init__(self, shop: Shop) -> None:
        self._lock = threading.RLock()
        self._read_to = 0
        self.ledger = Ledger()
        self.index = RecordIndex(lambda job: _unissued(shop, job))
        self.alarms: list[Appearance] = []  # in the order in which they appeared
        self.acknowledged: list[tuple[int, Appearance]] = []  # when, and which
        self._newest_alarm: dict[str, Appearance] = {}
        self.entries: dict[str, list[Entry]] = defaultdict(list)  # of the kinds in KEPT
        self.health_at = 0  # the newest entry that tells of an instrument's health
        self._lent, self._lent_at = Ledger(), 0

    @contextmanager
    def following(self, store: Store) -> Iterator[Memory]:
        """Holds the lock, and knows every entry that the store has. Look up and let go; who judges, asks for `lent`."""
        with self._lock:
            for entry in store.journal.entries(after=self._read_to):
                self._add(entry)
                self._read_to = entry.seq
            yield self

    def lent(self, store: Store) -> Ledger:
        """The ledger as of now, for judging without the lock: nobody adds to this one."""
        with self.following(store):
            if self._lent_at != self._read_to:
                self._lent, self._lent_at = self.ledger.copy(), self._read_to
            return self._lent

    @property
    def read_to(self) -> int:
        """How many entries have been read: what else is cached is good for as long as this stays."""
        return self._read_to

    def _add(self, entry: Entry) -> None:
        self.ledger.add(entry)
        self.index.add(entry)
        if entry.kind in ("health", "calibration", "correction"):
            self.health_at = entry.seq
        if entry.kind in KEPT:
            self.entries[entry.kind].append(entry)
        if entry.kind == "alarm":
            self._add_alarm(entry)

    def _add_alarm(self, entry: Entry) -> None:
        move = read_transition(entry.body, entry.private)
        if move.alarm_id not in self._newest_alarm or move.cause is Event.APPEAR:
            self._newest_alarm[move.alarm_id] = Appearance(move)
            self.alarms.append(self._newest_alarm[move.alarm_id])
        own = self._newest_alarm[move.alarm_id]
        own.add(move, entry.private.get("by"))
        if move.cause is Event.ACKNOWLEDGE:
            self.acknowledged.append((move.at, own))

    def standing(self) -> list[dict[str, Any]]:
        """Alarms that have something to show: active, or gone without having been acknowledged."""
        rows = (one.row for one in self._newest_alarm.values())
        return [row for row in rows if row["state"] not in AT_REST]


KEPT = ("finding", "note", "review", "load", "mix", "logger-start", "logger-stop")


def _unissued(shop: Shop, job: Job) -> dict[str, list[Verdict]]:
    """What the judge would say of each step that nothing was issued for: a check has no end that anything could be issued at,
    so its records are judged here; of another step, nobody knows.
    """
    process = shop.processes.get(job.process)
    found = {}
    for step in process.steps if process else ():
        promised = promise_of(shop, job.process, step, None).requirements
        if step.kind in ("check", "inspect"):
            looked = Evidence(None, None, checks=job.round.checks, closed=job.round.closed)
            found[step.step] = [one.verdict for wanted in promised if (one := judge_check(wanted, looked, _END)) is not None]
        else:
            found[step.step] = [Verdict.UNPROVEN] if promised else []
    return found


_END = 2**62
