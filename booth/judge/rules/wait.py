"""Other work waits after the bake: at least so long from the end of the bake to the check that records it.

Work that is recorded during the bake didn't wait at all, whatever was recorded later.
"""

from __future__ import annotations

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import finding
from booth.shop.requirement import Requirement, WaitTerms
from booth.times import duration_text
from booth.units import show


def judge_wait(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None until the work is recorded after the bake began."""
    terms: WaitTerms = requirement.terms
    begun = min((one.start for one in evidence.before), default=None)
    done = [one.time for one in evidence.checks if one.check == terms.check and begun is not None and one.time > begun]
    name = terms.check.replace("-", " ").capitalize()
    ends = [one.end for one in evidence.before]
    if not done:
        return None
    if None in ends:
        sentence = f"{name} is unproven: the end of the bake was not recorded"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence, final=evidence.over)
    waited = min(done) - max(ends)
    observed = waited / 1e6
    early = observed < requirement.low
    when = (
        f"{duration_text(waited)} after the bake" if waited >= 0 else f"during the bake, {duration_text(-waited)} before its end"
    )
    by = f", {duration_text(round(requirement.low * 1e6) - waited)} too early" if early and waited >= 0 else ""
    limit = show(requirement.low, "duration")
    return finding(
        requirement,
        evidence,
        as_of,
        Verdict.MISSED if early else Verdict.MET,
        f"{name} {when}{by} (limit at least {limit})",
        final=True,
        observed=observed,
        margin=observed - requirement.low,
    )
