"""One van's paint record as data: the JSON of the contract, out of which every document is rendered.

It is recomputed from the journal and the readings each time, under the configuration that was in force when the job was
opened, and shows beside each finding what was issued at the time.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import booth
from booth.grounds import grounds
from booth.judge.assess import Assessment, RoundAssessment, StepAssessment, cases, requirements
from booth.judge.finding import Finding, Verdict
from booth.judge.gather import Case
from booth.reports import record_papers as papers
from booth.reports.judged import Judged, judge_vehicle
from booth.reports.lost import lost_sentences
from booth.store import Verification
from booth.times import format_time
from booth.units import KINDS

__all__ = ["build_record", "judge_vehicle"]


def build_record(judged: Judged, verification: Verification | None = None, hashed: bool = True) -> dict[str, Any]:
    """The record of the contract (docs/record.md). The whole journal is verified for it, unless the caller has done that.

    Without `hashed` its evidence isn't hashed anew, which takes longer than all else: for a page that shows no hashes.
    """
    job, shop = judged.job, judged.shop
    process = shop.processes[job.process]
    verification = verification or judged.store.journal.verify()
    return {
        "vehicle": job.vehicle,
        "issued": format_time(judged.as_of),
        "known_by": _time(judged.gatherer.known_by),
        "site": {"name": shop.site.name, "invented": shop.site.invented, "time_zone": shop.site.time_zone},
        "job": {
            "process": job.process,
            "body": process.body,
            "opened": format_time(job.opened),
            "closed": _time(job.closed),
            "state": "open" if job.closed is None else "closed",
            "outcome": judged.assessment.rounds[-1].outcome,
        },
        "verdict": judged.assessment.verdict.value,
        "summary": list(_summary(judged.assessment)),
        "rounds": [_round(judged, one, hashed) for one in judged.assessment.rounds],
        "checks": papers.checks(job),
        "lots": papers.lots(judged),
        "mixes": papers.mixes(judged),
        "film": papers.films(job),
        "alarms": papers.alarms(judged),
        "concessions": papers.concessions(job),
        "corrections": papers.corrections(judged),
        "releases": papers.releases(job),
        "notes": papers.notes(job),
        "instruments": list(papers.instruments(judged)),
        "process": {
            "id": job.process,
            "name": process.name,
            "version": process.version,
            "sha256": shop.process_sha256(job.process),
            "decision_rule": shop.site.judging.decision_rule,
            "not_stated": list(judged.assessment.not_stated),
        },
        "config": {"sha256": shop.sha256},
        "journal": {"head": verification.head, "entries": verification.entries, "verified": verification.ok},
        "cautions": [*lost_sentences(judged), *shop.cautions],
        "software": {"name": "booth-logger", "version": booth.__version__},
    }


def _round(judged: Judged, assessed: RoundAssessment, hashed: bool) -> dict[str, Any]:
    round_ = assessed.round
    issued = _issued(judged, round_.number)
    case_of = {case.step.step: case for case in cases(judged.job, judged.shop.processes[judged.job.process], round_)}
    loose = [finding for step in assessed.steps for finding in step.findings if _is_loose(finding)]
    return {
        "round": round_.number,
        "reason": round_.reason,
        "opened": format_time(round_.opened),
        "closed": _time(round_.closed),
        "verdict": assessed.verdict.value,
        "outcome": assessed.outcome,
        "findings": [_finding(judged, one, case_of[one.step], assessed, issued, hashed) for one in loose],
        "steps": [_step(judged, step, case_of[step.step.step], assessed, issued, hashed) for step in assessed.steps],
    }


def _is_loose(finding: Finding) -> bool:
    """Findings about the round rather than about one of its steps: gates, and steps that nobody recorded."""
    return finding.kind in ("gate", "done")


def _step(
    judged: Judged, step: StepAssessment, case: Case, assessed: RoundAssessment, issued: dict, hashed: bool
) -> dict[str, Any]:
    run = step.run
    zones = judged.shop.processes[judged.job.process].zones
    passes = [one for one in run.passes if one.zone is not None] if run else []
    return {
        "step": step.step.step,
        "kind": step.step.kind,
        "coating": step.step.coating,
        "booth": run.booth if run else None,
        "start": _time(run.start) if run else None,
        "end": _time(run.end) if run else None,
        "source": run.source if run else None,
        "mix": run.mix if run else None,
        "zones": [
            {"zone": one.zone, "substrate": zones.get(one.zone), "start": format_time(one.start), "end": _time(one.end)}
            for one in passes
        ],
        "holds": [{"start": format_time(start), "end": _time(end)} for start, end in run.holds] if run else [],
        "by": run.by if run else None,
        "findings": [_finding(judged, one, case, assessed, issued, hashed) for one in step.findings if not _is_loose(one)],
    }


def _finding(
    judged: Judged, finding: Finding, case: Case, assessed: RoundAssessment, issued: dict, hashed: bool
) -> dict[str, Any]:
    requirement = next(one for one in requirements(case, judged.promises) if one.id == finding.requirement)
    concessions = [one.about for one in papers.sayings(judged.job, "concession")]
    window = finding.window
    return {
        "requirement": finding.requirement,
        "kind": finding.kind,
        "step": finding.step,
        "zone": finding.zone,
        "verdict": finding.verdict.value,
        "final": finding.final,
        "sentence": finding.sentence,
        "quantity": finding.quantity,
        "low": finding.low,
        "high": finding.high,
        "source": finding.source,
        "observed": finding.observed,
        "margin": finding.margin,
        "unit": KINDS[finding.quantity].symbol,
        "uncertainty": finding.uncertainty,
        "probability": finding.probability,
        "start": _time(finding.start),
        "end": _time(finding.end),
        "span_source": finding.span_source,
        "coverage": finding.coverage,
        "largest_gap_s": finding.largest_gap_us / 1e6,
        "excursions": [
            {"start": format_time(one.start), "end": format_time(one.end), "worst": one.worst, "seconds": one.length / 1e6}
            for one in finding.excursions
        ],
        "window": window and {"earliest": _time(window.earliest), "latest": _time(window.latest)},
        "evidence_sha256": _evidence_hash(judged, requirement, case) if hashed else "",
        "limit_text": _limit_text(finding),
        "observed_text": _observed_text(finding),
        "as_issued": issued.get((finding.step, finding.requirement)),
        "remedied_by": assessed.remedied.get(finding.requirement),
        "concession": concessions.index(finding.requirement) if finding.requirement in concessions else None,
    }


LIMITS_IN_WORDS = {
    "gate": "must have passed before the first coat",
    "check": "must have passed",
    "appearance": "must have passed before the next coat",
    "mode": "the mode of the step",
    "lots": "mix and lots recorded",
    "calibration": "in force for every instrument that decides",
    "done": "must be recorded",
}
"""Limits that aren't numbers. Everything else is written by the renderers in both unit systems."""


def _limit_text(finding: Finding) -> str:
    if finding.low is None and finding.high is None:
        return LIMITS_IN_WORDS.get(finding.kind, "")
    if finding.quantity == "number":  # a clock at the pace of a temperature: its limit is the whole of its time
        word = "at least" if finding.low is not None else "at most"
        return f"{word} 100 % of the time that its temperature asks for"
    return ""


def _observed_text(finding: Finding) -> str:
    if finding.quantity == "number" and finding.observed is not None and (finding.low is not None or finding.high is not None):
        return f"{100 * finding.observed:.0f} %"
    return ""


def _evidence_hash(judged: Judged, requirement, case: Case) -> str:
    known_by = judged.gatherer.known_by
    return "".join(one.sha256(judged.store.readings, known_by) for one in grounds(judged.gatherer, [requirement], case))


def _issued(judged: Judged, number: int) -> dict[tuple[str, str], dict[str, Any]]:
    """What was issued at each step's end, by (step, requirement); of several the first: what was believed then."""
    found = {}
    for entry in judged.entries("finding"):
        if entry.body["round"] == number:
            for one in entry.body["findings"]:
                said = {"verdict": one["verdict"], "sentence": one["sentence"], "recorded": format_time(entry.recorded)}
                found.setdefault((entry.body["step"], one["requirement"]), said)
    return found


def _summary(assessment: Assessment) -> Iterator[str]:
    """One sentence a miss, one for what is unproven; or that everything was met."""
    last = assessment.rounds[-1]
    missed = [one for one in last.findings if one.verdict is Verdict.MISSED]
    unproven = [one for one in last.findings if one.verdict is Verdict.UNPROVEN]
    for one in missed:
        remedy = last.remedied.get(one.requirement)
        yield f"{one.step}: {one.sentence}.{f' Remedied by {remedy}.' if remedy else ''}"
    if 0 < len(unproven) <= 4:
        for one in unproven:
            yield f"{one.step}: {one.sentence}."
    elif unproven:
        steps = ", ".join(dict.fromkeys(one.step for one in unproven))
        yield f"{len(unproven)} requirements are unproven, in {steps}."
    if not missed and not unproven:
        yield f"All {len(last.findings)} requirements were met." if last.findings else "Nothing has been judged yet."


def _time(us: int | None) -> str | None:
    return None if us is None else format_time(us)
