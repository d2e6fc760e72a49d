"""The jobs that are judged live: each under the configuration that it was opened under, with its steps laid out.

A job is folded anew when the journal, or what the instruments tell of it, has changed; a final finding is made anew when a
reading has come that it may rest on. In between nothing could have changed them, so what is kept here is never stale.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from booth.judge.assess import cases, find, requirements
from booth.judge.facts import Entry as Fact
from booth.judge.facts import Job, Run
from booth.judge.finding import Finding, Verdict
from booth.judge.gather import Case, Gatherer
from booth.judge.ledger import Ledger
from booth.live_readings import LiveReadings
from booth.reports.judged import NoSuchVehicle, shop_of
from booth.shop.problems import ConfigError
from booth.shop.promises import Promises
from booth.shop.requirement import Requirement
from booth.shop.shop import Shop
from booth.store import Entry, Store

PENDING_KINDS = ("bake_start",)  # kinds with something to say before their step begins
FAULT = "This could not be judged because of a fault in the logger; see its log"

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Open:
    """A vehicle's job as the journal knows it, and its own configuration."""

    job: Job
    shop: Shop


@dataclass(frozen=True)
class Laid:
    """One step with the requirements that can be judged now, and the points that these rest on."""

    case: Case
    requirements: tuple[Requirement, ...]
    points: Mapping[str, tuple[str, ...]]  # by id of the requirement

    @cached_property
    def all_points(self) -> tuple[str, ...]:
        return tuple(sorted({point for names in self.points.values() for point in names}))


@dataclass
class LiveJob:
    """A job's latest round laid over its process. `final` keeps the findings that nothing can change but a late reading."""

    job: Job
    shop: Shop
    told: tuple[str, ...]  # ids of what the instruments tell beyond the journal
    steps: tuple[Laid, ...]
    next_points: frozenset[str] = frozenset()  # what the step after the latest one will rest on, in the booth that the van is in
    final: dict[str, Finding] = field(default_factory=dict)


@dataclass(frozen=True)
class Seen:
    """A finding as it stands now, with the step and the requirement that it is about."""

    laid: Laid
    requirement: Requirement
    finding: Finding

    @property
    def case(self) -> Case:
        return self.laid.case

    @property
    def points(self) -> tuple[str, ...]:
        """Names of the points that it rests on."""
        return self.laid.points[self.requirement.id]


class LiveJobs:
    """Every job that something may still happen to."""

    def __init__(self, shop: Shop, store: Store, ledger: Ledger, readings: LiveReadings) -> None:
        self._shop, self._store, self.ledger, self._readings = shop, store, ledger, readings
        self._promises: dict[int, Promises] = {}  # by identity: the shops are kept beside them
        self._shops: dict[tuple[str | None, str], Shop] = {}
        self._awake: dict[str, None] = {}  # a set that keeps its order
        self._laid: dict[str, LiveJob] = {}
        self.unreadable: dict[str, tuple[Job, str]] = {}  # by vehicle: jobs that can't be judged, and why
        self.faults: dict[tuple[str, str], tuple[LiveJob, Seen]] = {}  # by vehicle and requirement: rules that failed

    def hear(self, entry: Entry) -> None:
        """An entry that changes facts; whatever was known of any job may be another now."""
        self._laid.clear()
        named = [entry.body, entry.body.get("set", {}), *entry.body.get("vans", ())]
        self._awake |= dict.fromkeys(body["vehicle"] for body in named if body.get("vehicle"))

    def sleep(self, vehicle: str) -> None:
        """Nothing more is to be done about this vehicle until the journal names it again."""
        self._awake.pop(vehicle, None)
        self._laid.pop(vehicle, None)
        self.faults = {name: fault for name, fault in self.faults.items() if name[0] != vehicle}

    def forget_final(self, since: int) -> None:
        """Readings have come from as early as this: what is final about a stretch that goes on after it is judged again."""
        for live in self._laid.values():
            live.final = {name: one for name, one in live.final.items() if one.end < since}

    def known(self) -> Iterator[Open]:
        """The jobs as far as the journal knows them."""
        self.unreadable.clear()
        for vehicle in self._awake:
            job = self.ledger.job(vehicle)
            if job is None:
                continue
            try:
                yield Open(job, self._shop_of(job))
            except (NoSuchVehicle, ConfigError) as problem:
                self.unreadable[vehicle] = (job, str(problem))

    def shop_of(self, job: Job) -> Shop | None:
        """The configuration that a job was opened under, also of one that is done with; None where it can't be judged."""
        try:
            return self._shop_of(job)
        except (NoSuchVehicle, ConfigError):
            return None

    def laid_out(self, known: Iterable[Open], told: Mapping[str, list[Fact]]) -> list[LiveJob]:
        """The same with what the instruments tell beyond the journal."""
        return [self._lay_out(one, told.get(one.job.vehicle, [])) for one in known]

    def judged(self, live: LiveJob, gatherer: Gatherer, as_of: int) -> Iterator[Seen]:
        """Every requirement that there is something to say about."""
        for laid in live.steps:
            for requirement in laid.requirements:
                finding = live.final.get(requirement.id) or self._judge(live, laid, requirement, gatherer, as_of)
                if finding is not None:
                    yield Seen(laid, requirement, finding)

    def _lay_out(self, one: Open, told: list[Fact]) -> LiveJob:
        vehicle, ids = one.job.vehicle, tuple(entry.id for entry in told)
        live = self._laid.get(vehicle)
        if live is None or live.told != ids:
            job = self.ledger.job(vehicle, told)
            steps = tuple(self._steps(job, one.shop))
            live = self._laid[vehicle] = LiveJob(job, one.shop, ids, steps, self._next_points(job, one.shop, steps))
        return live

    def _steps(self, job: Job, shop: Shop) -> Iterator[Laid]:
        promises = self._promises.setdefault(id(shop), Promises(shop))
        gatherer = Gatherer(shop, self.ledger, self._readings, 0)
        for case in cases(job, shop.processes[job.process], job.round):
            wanted = tuple(one for one in requirements(case, promises) if _has_begun(one, case))
            points = {one.id: tuple(gatherer.points(one, case)) if case.run is not None else () for one in wanted}
            yield Laid(case, wanted, points)

    def _next_points(self, job: Job, shop: Shop, steps: tuple[Laid, ...]) -> frozenset[str]:
        """As if the next step began now, where the van stands."""
        begun = [index for index, laid in enumerate(steps) if laid.case.run is not None]
        after = steps[begun[-1] + 1 :] if begun else steps
        place = job.places[-1] if job.places and job.places[-1].end is None else None
        if job.round.closed is not None or place is None or not after:
            return frozenset()
        case = after[0].case
        run = Run(case.step.step, case.step.kind, place.booth, place.start, None, "entered")
        pretended = replace(case, run=run)
        gatherer = Gatherer(shop, self.ledger, self._readings, 0)
        wanted = requirements(pretended, self._promises[id(shop)])
        return frozenset(name for one in wanted for name in gatherer.points(one, pretended))

    def _judge(self, live: LiveJob, laid: Laid, requirement: Requirement, gatherer: Gatherer, as_of: int) -> Finding | None:
        """A fault in one rule must not silence the others; its requirement is then unproven, never met."""
        name = (live.job.vehicle, requirement.id)
        try:
            finding = find(requirement, laid.case, gatherer)
        except Exception:
            if name not in self.faults:  # said once, and not twice a second
                log.exception("%s of %s could not be judged", requirement.id, live.job.vehicle)
            finding = _fault(requirement)
            self.faults[name] = (live, Seen(laid, requirement, finding))
            return finding
        self.faults.pop(name, None)
        if finding is not None and finding.final and finding.end is not None:
            live.final[requirement.id] = finding
        return finding

    def _shop_of(self, job: Job) -> Shop:
        key = (job.config_sha256, job.process)
        if key not in self._shops:
            self._shops[key] = shop_of(self._store, job, self._shop)
        return self._shops[key]


def _has_begun(requirement: Requirement, case: Case) -> bool:
    """Whether there can be something to say: a step that may still come isn't missing."""
    return requirement.kind in PENDING_KINDS if case.run is None else requirement.kind != "done"


def _fault(requirement: Requirement) -> Finding:
    return Finding(
        requirement=requirement.id,
        kind=requirement.kind,
        step=requirement.step,
        verdict=Verdict.UNPROVEN,
        final=False,
        sentence=FAULT,
        quantity=requirement.quantity,
        low=requirement.low,
        high=requirement.high,
        source=requirement.source,
    )
