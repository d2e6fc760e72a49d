"""What was said at each step's end, once: its findings and the hashes of their evidence go into the journal.

So a record can show years later what was believed at the time. Readings that come after that add a second entry beside the
first, with hashes of their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from uuid import NAMESPACE_URL, uuid5

from booth.grounds import grounds, hashes_in
from booth.judge.gather import Case, Gatherer
from booth.judge.ledger import Ledger
from booth.live_jobs import LiveJob, Seen
from booth.store import Draft, Entry, Store
from booth.times import format_time

EVER = 0

Key = tuple[str, int, str, str, str]  # vehicle, round, step, start, end


class Issuer:
    """Remembers what the journal has, and drafts what it lacks."""

    def __init__(self, store: Store, lateness_us: int) -> None:
        self._store, self._lateness = store, lateness_us
        self._issued: dict[Key, list[str]] = {}  # -> hashes of the evidence
        self._ledger, self._read_to = Ledger(), 0  # of the mixes: where evidence begins at mixing
        self._in_doubt: int | None = EVER  # readings have come from as early as this since all was written; who knows before

    def hear(self, entry: Entry) -> None:
        """A `finding` entry of the journal."""
        body = entry.body
        self._issued[body["vehicle"], body["round"], body["step"], body["start"], body["end"]] = hashes_in(body)

    def doubt(self, since: int) -> None:
        """Readings have come from as early as this."""
        self._in_doubt = since if self._in_doubt is None else min(since, self._in_doubt)

    def drafts(self, judged: Iterable[tuple[LiveJob, list[Seen]]], as_of: int) -> list[Draft]:
        """Entries for the steps that are over, late readings having had their time."""
        found = []
        for live, findings in judged:
            for _, own in groupby(findings, key=lambda seen: seen.case.step.step):
                found += self._drafts_of(live, list(own), as_of)
        return found

    def written(self) -> None:
        """The drafts are in the journal. Where it refused them, what was in doubt still is."""
        self._in_doubt = None

    def is_done(self, live: LiveJob) -> bool:
        """Whether every step of a closed round was issued."""
        return all(key_of(live, laid.case) in self._issued for laid in live.steps if laid.case.run is not None)

    def _drafts_of(self, live: LiveJob, findings: list[Seen], as_of: int) -> Iterator[Draft]:
        case = findings[0].case
        over = case.run is not None and case.end is not None and case.end + self._lateness < as_of
        if not over or not all(seen.finding.final for seen in findings):
            return
        known = self._issued.get(key_of(live, case))
        if known is not None and (self._in_doubt is None or self._in_doubt >= case.end):
            return
        rests_on = grounds(self._gatherer(live, as_of), [seen.requirement for seen in findings], case)
        hashes = [one.sha256(self._store.readings) for one in rests_on]
        if hashes != known:
            yield _draft(live, findings, [one.body(sha256) for one, sha256 in zip(rests_on, hashes, strict=True)], as_of)

    def _gatherer(self, live: LiveJob, as_of: int) -> Gatherer:
        for entry in self._store.journal.entries(after=self._read_to, kinds=("mix", "correction")):
            self._ledger.add(entry)
            self._read_to = entry.seq
        return Gatherer(live.shop, self._ledger, self._store.readings, as_of)


def key_of(live: LiveJob, case: Case) -> Key:
    """What an entry is about; a step that is later said to have been at another time is another one."""
    return live.job.vehicle, case.round.number, case.step.step, format_time(case.run.start), format_time(case.end)


def _draft(live: LiveJob, findings: list[Seen], evidence: list[dict], as_of: int) -> Draft:
    laid = findings[0].laid
    key = key_of(live, laid.case)
    said = [seen.finding for seen in findings]
    body = dict(zip(("vehicle", "round", "step", "start", "end"), key, strict=True)) | {
        "points": list(laid.all_points),
        "evidence": evidence,
        "findings": [{"requirement": one.requirement, "verdict": one.verdict.value, "sentence": one.sentence} for one in said],
    }
    hashes = "/".join(hashes_in(body))
    identity = str(uuid5(NAMESPACE_URL, f"booth/finding/{'/'.join(map(str, key))}/{hashes}"))
    return Draft("finding", body, laid.case.end, as_of, "logger", identity)
