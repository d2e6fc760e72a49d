"""A whole job judged: every requirement of every step of every round, and what follows for the round and the van."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from booth.judge.course import course
from booth.judge.facts import Job, Round, Run, Saying, is_among
from booth.judge.finding import Finding, Verdict, overall
from booth.judge.gather import Case, Gatherer
from booth.judge.health.overlay import explained
from booth.judge.judge import judge
from booth.judge.remedy import remedied_by
from booth.shop.process import Process, Step
from booth.shop.promises import Promises
from booth.shop.requirement import Requirement


@dataclass(frozen=True)
class StepAssessment:
    step: Step
    run: Run | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class RoundAssessment:
    """`remedied` maps a missed requirement to the check that the process accepts as its way out."""

    round: Round
    steps: tuple[StepAssessment, ...]
    verdict: Verdict
    outcome: str
    remedied: Mapping[str, str]

    @property
    def findings(self) -> list[Finding]:
        return [finding for step in self.steps for finding in step.findings]


@dataclass(frozen=True)
class Assessment:
    job: Job
    rounds: tuple[RoundAssessment, ...]
    verdict: Verdict
    not_stated: tuple[str, ...]


def cases(job: Job, process: Process, round_: Round | None = None) -> Iterator[Case]:
    """The steps of one round, or of all, each with what stands around it."""
    for one in [round_] if round_ is not None else job.rounds:
        runs = course(job, one, process)
        for step in process.steps:
            yield Case(job, one, process, step, runs.get(step.step), runs)


def requirements(case: Case, promises: Promises) -> tuple[Requirement, ...]:
    booth = case.run.booth if case.run else None
    return promises.of(case.job.process, case.step, booth).requirements


def find(requirement: Requirement, case: Case, gatherer: Gatherer) -> Finding | None:
    """The finding on one requirement; where a coat used several mixes, that of the worst of them."""
    mixes = case.run.mixes if case.run is not None and requirement.kind in PER_MIX else ()
    if len(mixes) < 2:
        return _find(requirement, case, gatherer)
    each = (replace(case, run=replace(case.run, mix=mix)) for mix in mixes)
    made = [_find(requirement, one, gatherer) for one in each]
    return max((one for one in made if one is not None), key=lambda one: SEVERITY.index(one.verdict), default=None)


def _find(requirement: Requirement, case: Case, gatherer: Gatherer) -> Finding | None:
    """What the rule says, and what the health of the instruments has to do with it."""
    found = judge(requirement, gatherer.evidence(requirement, case), gatherer.as_of)
    if found is None or found.verdict is Verdict.MISSED:
        return found
    return explained(found, gatherer.unhealthy(requirement, case), gatherer.shop.site.zone)


PER_MIX = ("lots", "pot_life", "induction")
SEVERITY = (Verdict.MET, Verdict.UNPROVEN, Verdict.MISSED)


def assess(job: Job, promises: Promises, gatherer: Gatherer) -> Assessment:
    """The job as known at the gatherer's moment."""
    process = promises.shop.processes[job.process]
    rounds = tuple(_round(job, round_, process, promises, gatherer) for round_ in job.rounds)
    silent = dict.fromkeys(text for step in process.steps for text in promises.of(job.process, step, None).not_stated)
    # The van's verdict is its latest round's: an earlier miss is what the later round was opened for, and stays in its own round.
    return Assessment(job, rounds, rounds[-1].verdict, tuple(silent))


def _round(job: Job, round_: Round, process: Process, promises: Promises, gatherer: Gatherer) -> RoundAssessment:
    steps = tuple(_step(case, promises, gatherer) for case in cases(job, process, round_))
    findings = [finding for step in steps for finding in step.findings]
    remedied = _remedied(findings, process, round_)
    verdict = overall(finding.verdict for finding in findings)
    return RoundAssessment(round_, steps, verdict, _outcome(job, round_, findings, remedied), remedied)


def _step(case: Case, promises: Promises, gatherer: Gatherer) -> StepAssessment:
    made = (find(one, case, gatherer) for one in requirements(case, promises))
    return StepAssessment(case.step, case.run, tuple(finding for finding in made if finding is not None))


def _remedied(findings: list[Finding], process: Process, round_: Round) -> dict[str, str]:
    checks = ((finding.requirement, remedied_by(finding, process, round_)) for finding in findings)
    return {requirement: check.check for requirement, check in checks if check is not None}


def _outcome(job: Job, round_: Round, findings: list[Finding], remedied: Mapping[str, str]) -> str:
    """How the round ended: open, closed, released, released with concession, remedied. It never changes a verdict.

    A release counts when each miss and each unproven requirement was remedied or conceded. What somebody said about a van that
    they sprayed themselves stands in the record and counts for nothing here.
    """
    said = [one for one in job.sayings if _within(one, round_, job) and not is_among(one.by, job.sprayers)]
    wanting = {one.requirement for one in findings if one.verdict is not Verdict.MET} - set(remedied)
    if any(one.kind == "release" for one in said) and wanting <= {one.about for one in said if one.kind == "concession"}:
        return "released with concession" if wanting else "released"
    missed = [finding for finding in findings if finding.verdict is Verdict.MISSED]
    if missed and all(finding.requirement in remedied for finding in missed):
        return "remedied"
    return "open" if round_.closed is None else "closed"


def _within(saying: Saying, round_: Round, job: Job) -> bool:
    following = job.rounds[round_.number].opened if round_.number < len(job.rounds) else None
    return saying.time >= round_.opened and (following is None or saying.time < following)
