"""Live judging: what the newest readings and the passing of time mean for the open jobs, as alarms and journal entries.

It has no clock of its own: `look(as_of)` is called for each batch of readings and as time passes, and gives the same whether
it is called often or seldom, because every condition carries the moment since when it is true. A new Watch over the same
store goes on where the last one stopped.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from booth.alarms.advance import Delay, Delays, advance
from booth.alarms.book import AlarmBook, acknowledge, retire, shelve
from booth.alarms.condition import Condition
from booth.alarms.states import AlarmError, State
from booth.alarms.transition import Transition, transition_body, transition_private
from booth.alarms.watching import Where, conditions_of
from booth.judge.assess import cases, requirements
from booth.judge.facts import Job
from booth.judge.finding import Finding, Verdict
from booth.judge.gather import Case, Gatherer
from booth.judge.judge import judge
from booth.judge.ledger import Ledger
from booth.live_readings import KEPT_US, LiveReadings
from booth.shop.promises import Promises
from booth.shop.requirement import ClimateTerms, ModeTerms, Requirement
from booth.shop.shop import Shop
from booth.store import Draft, Entry, Reading, Store
from booth.telling import Teller
from booth.times import MINUTE, format_time, parse_time

SETTLING_US = 2 * MINUTE  # a finding this long after its step's end is settled and not judged again live
PENDING_KINDS = ("bake_start",)  # kinds with something to say before their step begins


log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Seen:
    """A finding as it stands now, with the case that it is about."""

    case: Case
    finding: Finding


class Watch:
    """The live state: the ledger, the alarm book and the findings of what is open. Everything in it is a fold over the store."""

    def __init__(self, shop: Shop, store: Store, now: int) -> None:
        self.shop, self.store = shop, store
        self.promises = Promises(shop)
        self.ledger = Ledger()
        self.book = AlarmBook()
        self.readings = LiveReadings(store.readings, now - KEPT_US)
        self.seen: dict[tuple[str, str], Seen] = {}
        self.jobs: dict[str, Job] = {}
        self._teller = Teller(shop, self.ledger, self.readings)
        times = shop.site.alarms
        delay = Delay(times.on_delay, times.off_delay)
        self._delays = Delays(delay, delay, Delay(0, times.off_delay))
        self._read_to = 0
        self._requests: list[Entry] = []
        self._settled: dict[tuple[str, str], tuple[Any, Finding]] = {}
        self._issued: set[str] = set()
        self._follow()

    def add(self, readings: tuple[Reading, ...]) -> None:
        """Readings that were just committed."""
        late = self.readings.add(readings)
        if late is not None:  # a finding that rests on that stretch is judged again
            self._settled = {
                key: (sign, one) for key, (sign, one) in self._settled.items() if one.end is not None and one.end < late
            }

    def look(self, as_of: int) -> list[Transition]:
        """Follow the journal, judge what is open, move the alarms to `as_of`. Returns the transitions, journalled already."""
        self._follow()
        self._write_down(self._teller.settled(as_of))
        told = self._teller.all(as_of)
        gatherer = Gatherer(self.shop, self.ledger, self.readings, as_of)
        self.seen, self.jobs = {}, {}
        conditions: list[Condition] = []
        for vehicle in self.ledger.vehicles:
            job = self.ledger.job(vehicle, told.get(vehicle, ()))
            if job is None or job.process not in self.shop.processes:
                continue
            self.jobs[vehicle] = job
            if job.round.closed is None:
                for seen, requirement in self._judged(job, gatherer, as_of):
                    self.seen[vehicle, seen.finding.requirement] = seen
                    conditions += self._conditions(seen, requirement, as_of)
        conditions += self._teller.air_hazards(as_of)
        self._issue(as_of)
        moves = self._answer_requests(as_of)
        moves += self._retire(as_of)
        self.book, made = advance(self.book, conditions, as_of, self._delays)
        moves += made
        self._journal(moves, as_of)
        return moves

    def _follow(self) -> None:
        """Read what was appended to the journal since, by whomever."""
        if self.store.journal.head().entries == self._read_to:
            return
        for entry in self.store.journal.entries(after=self._read_to):
            self._read_to = entry.seq
            self.ledger.add(entry)
            if entry.kind == "alarm":
                self._fold_alarm(entry)
            elif entry.kind in ("acknowledge", "shelve"):
                self._requests.append(entry)
            elif entry.kind == "finding":
                self._issued.add(entry.id)

    def _fold_alarm(self, entry: Entry) -> None:
        from booth.alarms.transition import read_transition

        transition = read_transition(entry.body, entry.private)
        known = self.book.alarms.get(transition.alarm_id)
        if known is None or known.state is transition.before:
            self.book = self.book.after(transition)
        # What was asked for before this entry was answered by it, or refused.
        self._requests = [one for one in self._requests if one.seq > entry.seq]

    def _judged(self, job: Job, gatherer: Gatherer, as_of: int) -> Iterator[tuple[Seen, Requirement]]:
        for case in cases(job, self.shop.processes[job.process], job.round):
            for requirement in requirements(case, self.promises):
                if case.run is None and requirement.kind not in PENDING_KINDS:
                    continue
                finding = self._finding(requirement, case, gatherer, as_of)
                if finding is not None:
                    yield Seen(case, finding), requirement

    def _finding(self, requirement: Requirement, case: Case, gatherer: Gatherer, as_of: int) -> Finding | None:
        key = (case.job.vehicle, requirement.id)
        before = case.runs.get(case.step.after) if case.step.after else None
        sign = (case.round.number, case.run, before, case.end, case.round.checks, case.job.places)
        settled = self._settled.get(key)
        if settled is not None and settled[0] == sign:
            return settled[1]
        finding = _judged_safely(requirement, case, gatherer, as_of)
        if finding is not None and finding.final and finding.end is not None and finding.end + SETTLING_US < as_of:
            self._settled[key] = (sign, finding)
        return finding

    def _conditions(self, seen: Seen, requirement: Requirement, as_of: int) -> Iterator[Condition]:
        if seen.finding.kind in ("calibration", "lots", "done", "check"):
            return  # papers are for the supervisor's screen, not for the painter's beacon
        terms = requirement.terms
        grace = terms.grace_us if isinstance(terms, ClimateTerms | ModeTerms) else 0
        case = seen.case
        booth = case.run.booth if case.run and case.run.booth else self._whereabouts(case.job, as_of)
        where = Where(booth, case.job.vehicle, case.round.number, grace, requirement.what_to_do or "")
        yield from conditions_of(seen.finding, where, as_of, self.shop.site.alarms.warn_before)

    @staticmethod
    def _whereabouts(job: Job, as_of: int) -> str:
        here = [place.booth for place in job.places if place.start <= as_of and (place.end is None or as_of < place.end)]
        return here[-1] if here else (job.places[-1].booth if job.places else "shop")

    def _answer_requests(self, as_of: int) -> list[Transition]:
        """What people asked for: acknowledge, shelve. Asking for what can't be done changes nothing."""
        moves: list[Transition] = []
        for entry in self._requests:
            by = entry.private.get("by") or "unknown"
            try:
                if entry.kind == "acknowledge":
                    self.book, made = acknowledge(self.book, entry.body["alarm"], entry.effective, by)
                else:
                    self.book, made = shelve(self.book, entry.body["alarm"], parse_time(entry.body["until"]), entry.effective, by)
                moves += made
            except AlarmError:
                continue  # the entry stands in the journal; there was no such alarm to act on
        self._requests = []
        return moves

    def _retire(self, as_of: int) -> list[Transition]:
        """Latched alarms whose cause is dealt with: the round is closed or remedied, or later evidence took the miss back."""
        moves: list[Transition] = []
        for alarm_id, alarm in list(self.book.alarms.items()):
            condition = alarm.condition
            standing = alarm.state not in (State.NORMAL, State.OUT_OF_SERVICE)
            if condition.latched and standing and condition.vehicle and not self._still_missed(condition):
                self.book, made = retire(self.book, alarm_id, as_of, "logger")
                moves += made
        return moves

    def _still_missed(self, condition: Condition) -> bool:
        job = self.jobs.get(condition.vehicle or "")
        if job is None or job.round.number != condition.round or job.round.closed is not None:
            return False
        seen = self.seen.get((job.vehicle, condition.requirement))
        return seen is not None and seen.finding.verdict is Verdict.MISSED

    def _issue(self, as_of: int) -> None:
        """When a step is over and late readings had their time, its findings and its evidence's hash go into the journal."""
        drafts = []
        lateness = self.shop.site.judging.allowed_lateness
        by_step: dict[tuple[str, str], list[Seen]] = {}
        for (vehicle, _), seen in self.seen.items():
            by_step.setdefault((vehicle, seen.case.step.step), []).append(seen)
        for (vehicle, _), all_seen in by_step.items():
            case = all_seen[0].case
            ended = case.run is not None and case.run.end is not None and case.run.end + lateness < as_of
            if not ended or not all(seen.finding.final for seen in all_seen):
                continue
            identity = _issue_id(vehicle, case)
            if identity not in self._issued:
                drafts.append(self._issued_findings(identity, case, all_seen, as_of))
                self._issued.add(identity)
        self._write_down(drafts)

    def _issued_findings(self, identity: str, case: Case, all_seen: list[Seen], as_of: int) -> Draft:
        gatherer = Gatherer(self.shop, self.ledger, self.readings, as_of)
        points = sorted({name for one in requirements(case, self.promises) for name in gatherer.points(one, case)})
        start, end = case.run.start, case.run.end
        findings = [
            {"requirement": one.finding.requirement, "verdict": one.finding.verdict.value, "sentence": one.finding.sentence}
            for one in all_seen
        ]
        body = {
            "vehicle": case.job.vehicle,
            "round": case.round.number,
            "step": case.step.step,
            "start": format_time(start),
            "end": format_time(end),
            "points": points,
            "evidence_sha256": self.store.readings.evidence_sha256(points, start, end),
            "findings": findings,
        }
        return Draft("finding", body, end, as_of, "logger", identity)

    def _journal(self, moves: list[Transition], as_of: int) -> None:
        self._write_down([_alarm_draft(move, as_of) for move in moves])

    def _write_down(self, drafts: list[Draft]) -> None:
        if not drafts:
            return
        self.store.journal.append(drafts)
        # The alarm book is already where these entries lead; everything else folds in.
        for entry in self.store.journal.entries(after=self._read_to):
            self._read_to = entry.seq
            self.ledger.add(entry)
            if entry.kind in ("acknowledge", "shelve"):
                self._requests.append(entry)


def _judged_safely(requirement: Requirement, case: Case, gatherer: Gatherer, as_of: int) -> Finding | None:
    """A fault in one rule must not silence the others; its requirement is then unproven, never met."""
    try:
        return judge(requirement, gatherer.evidence(requirement, case), as_of)
    except Exception:
        log.exception("%s of %s could not be judged", requirement.id, case.job.vehicle)
        return Finding(
            requirement=requirement.id,
            kind=requirement.kind,
            step=requirement.step,
            verdict=Verdict.UNPROVEN,
            final=False,
            sentence="This could not be judged because of a fault in the logger; see its log",
            quantity=requirement.quantity,
            low=requirement.low,
            high=requirement.high,
            source=requirement.source,
        )


def _issue_id(vehicle: str, case: Case) -> str:
    run = case.run
    return str(uuid5(NAMESPACE_URL, f"booth/finding/{vehicle}/{case.round.number}/{run.step}/{run.start}/{run.end}"))


def _alarm_draft(move: Transition, as_of: int) -> Draft:
    identity = str(uuid5(NAMESPACE_URL, f"booth/alarm/{move.alarm_id}/{move.at}/{move.cause.value}/{move.before.value}"))
    body = transition_body(move)
    if move.condition.vehicle:
        body["vehicle"] = move.condition.vehicle
    return Draft("alarm", body, move.at, as_of, "logger", identity, transition_private(move))
