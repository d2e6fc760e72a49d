"""The bake must start between an earliest and a latest moment after the last coat. Silence doesn't postpone the miss."""

from __future__ import annotations

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict, Window
from booth.judge.judging import NEAR, between_moments_s, finding, margin, stated
from booth.shop.requirement import Requirement, StartTerms
from booth.times import duration_text


def judge_bake_start(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None until the last coat has ended, or the bake shows that its end was forgotten."""
    terms: StartTerms = requirement.terms
    begun = evidence.start is not None
    if not evidence.before or any(one.end is None for one in evidence.before):
        if not begun:
            return None
        sentence = "The start of the bake is unproven: the end of the last coat was not recorded"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence, final=True)
    since = max(one.end for one in evidence.before)
    known_us = round(_uncertainty_s(evidence, since, begun=False) * 1e6)
    window = Window(
        None if terms.earliest_us is None else since + terms.earliest_us,
        None if terms.latest_us is None else since + terms.latest_us,
        known_us,
        known_us,
    )
    moment = evidence.start if begun else max(since, evidence.latest(as_of))
    u = _uncertainty_s(evidence, since, begun)
    band = round(u * 1e6) if requirement.guarded else 0
    early = begun and window.earliest is not None and moment < window.earliest - band
    late = window.latest is not None and moment > window.latest + band
    near = window.earliest is not None and moment < window.earliest + band
    near |= window.latest is not None and moment > window.latest - band
    verdict = Verdict.MISSED if early or late else Verdict.MET if begun and not near else Verdict.UNPROVEN
    observed = (moment - since) / 1e6
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        _sentence(terms, moment - since, begun, early, late, evidence.over)
        + (NEAR if begun and verdict is Verdict.UNPROVEN else ""),
        final=begun or evidence.over,
        observed=observed,
        uncertainty=stated(u),
        margin=margin(observed, requirement.low, requirement.high),
        window=window,
    )


def _uncertainty_s(evidence: Evidence, since: int, begun: bool) -> float:
    """Of the time between the last coat's end and the start of the bake; while it is awaited, now is known."""
    last = next(one for one in evidence.before if one.end == since)
    return between_moments_s(evidence, last.source, *([evidence.span_source] if begun else []))


def _sentence(terms: StartTerms, waited: int, begun: bool, early: bool, late: bool, over: bool) -> str:
    limits = [f"{duration_text(terms.earliest_us)} at the earliest"] if terms.earliest_us is not None else []
    limits += [f"{duration_text(terms.latest_us)} at the latest"] if terms.latest_us is not None else []
    by = ""
    if late:
        by = f", {duration_text(waited - terms.latest_us)} too late"
    elif early:
        by = f", {duration_text(terms.earliest_us - waited)} too early"
    if begun:
        what = "The bake started"
    else:
        what = "No bake was recorded until" if over else "The bake has not started"
    return f"{what} {duration_text(waited)} after the last coat{by} (limit {' and '.join(limits)})"
