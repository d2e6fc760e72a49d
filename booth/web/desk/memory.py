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
from booth.reports.record_papers import moved
from booth.shop.promises import promise_of
from booth.shop.shop import Shop
from booth.store import Entry, Store
from booth.times import format_time
from booth.web.desk.record_index import RecordIndex


class Memory:
    """Journal followed into a ledger, an index of records, and every appearance of every alarm."""

    def __init__(self, shop: Shop) -> None:
        self._lock = threading.RLock()
        self._read_to = 0
        self.ledger = Ledger()
        self.index = RecordIndex(lambda job: _unissued(shop, job))
        self.alarms: list[dict[str, Any]] = []  # one row for each time that one appeared, in that order
        self._newest_alarm: dict[str, dict[str, Any]] = {}
        self.entries: dict[str, list[Entry]] = defaultdict(list)  # of the kinds in KEPT

    @contextmanager
    def following(self, store: Store) -> Iterator[Memory]:
        """Holds the lock, and knows every entry that the store has."""
        with self._lock:
            for entry in store.journal.entries(after=self._read_to):
                self._add(entry)
                self._read_to = entry.seq
            yield self

    @property
    def read_to(self) -> int:
        """How many entries have been read: what else is cached is good for as long as this stays."""
        return self._read_to

    def _add(self, entry: Entry) -> None:
        self.ledger.add(entry)
        self.index.add(entry)
        if entry.kind in KEPT:
            self.entries[entry.kind].append(entry)
        if entry.kind == "alarm":
            self._add_alarm(entry)

    def _add_alarm(self, entry: Entry) -> None:
        move = read_transition(entry.body, entry.private)
        row = self._newest_alarm.get(move.alarm_id)
        if row is None or move.cause is Event.APPEAR:
            condition = move.condition
            about = {"booth": condition.booth, "vehicle": condition.vehicle, "what_to_do": condition.what_to_do}
            row = {"alarm": move.alarm_id, "warned": None, "raised": format_time(move.at)} | about
            self._newest_alarm[move.alarm_id] = row
            self.alarms.append(row)
        row |= moved(row, move, entry.private.get("by"))

    def standing(self) -> list[dict[str, Any]]:
        """Alarms that have something to show: active, or gone without having been acknowledged."""
        return [row for row in self._newest_alarm.values() if row["state"] not in ("normal", "out_of_service")]


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
