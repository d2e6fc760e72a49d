"""The cool-down: long enough on the clock, and cold enough at the end for the van to be handled."""

from __future__ import annotations

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict, Window
from booth.judge.judging import NEAR, between_moments_s, finding, part_uncertainty, shown, so_far, stated
from booth.judge.outlook import falls_to, outlook, the_last
from booth.judge.rules.parts import NO_PROBE, place_of
from booth.judge.series import Series
from booth.shop.requirement import FlashTerms, Requirement
from booth.times import SECOND, duration_text
from booth.units import show


def judge_cool_minimum(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """From the start of the cool-down to its end; None before it begins."""
    if evidence.start is None:
        return None
    terms: FlashTerms = requirement.terms
    start, end = evidence.span(as_of)
    final = evidence.final(as_of)
    if not terms.pace.is_fixed:
        sentence = "Cool-down is unproven: its time is tabulated, and only a fixed one can be judged"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence)
    observed = (end - start) / 1e6
    u = between_moments_s(evidence, evidence.span_source, evidence.span_source)
    known_us = round(between_moments_s(evidence, evidence.span_source) * SECOND)
    band = u if requirement.guarded else 0.0
    verdict, near = Verdict.MET, ""
    if observed < requirement.low + band:
        verdict = Verdict.MISSED if final and observed < requirement.low - band else Verdict.UNPROVEN
        near = NEAR if final and verdict is Verdict.UNPROVEN else ""
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        f"{so_far(final)}Cooled for {duration_text(end - start)}{near} (limit at least {show(requirement.low, 'duration')})",
        observed=observed,
        uncertainty=stated(u),
        margin=observed - requirement.low,
        window=Window(start + round(requirement.low * 1e6), None, known_us, known_us),
    )


def judge_cool_below(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """The hottest part at the end of the cool-down; None before it begins."""
    if evidence.start is None:
        return None
    if not evidence.parts:
        sentence = f"The van's temperature at the end of the cool-down is unproven: {NO_PROBE}"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence)
    _, end = evidence.span(as_of)
    final = evidence.final(as_of)
    speaking = [part for part in evidence.parts if _speaks_at(part.series, end)]
    u = part_uncertainty(requirement, evidence)
    limit = f"limit at most {show(requirement.high, 'temperature')}"
    if not speaking:
        sentence = f"{so_far(final)}No part probe told the van's temperature at the end of the cool-down ({limit})"
        window = None if final else Window(None, None)
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence, window=window)
    hottest = max(speaking, key=lambda part: part.series.values[-1])
    observed = float(hottest.series.values[-1])
    verdict = Verdict.UNPROVEN
    if final and observed > requirement.high + u:
        verdict = Verdict.MISSED
    elif final and observed <= requirement.high - u and len(speaking) == len(evidence.parts):
        verdict = Verdict.MET
    silent = [place_of(part, evidence.parts) for part in evidence.parts if not _speaks_at(part.series, end)]
    but = f", but {', '.join(silent)} told nothing" if silent else ""
    near = ", which is within the measurement uncertainty" if final and verdict is Verdict.UNPROVEN and not silent else ""
    where, when = place_of(hottest, evidence.parts), "at the end" if final else "now"
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        f"{so_far(final)}The hottest part ({where}) was at {shown(observed, requirement)} {when}{but}{near} ({limit})",
        observed=observed,
        margin=requirement.high - observed,
        uncertainty=stated(evidence.uncertainty.get("part_temperature", 0.0)),
        zone=hottest.zone,
        window=None if final else _expected(requirement, evidence, end),
    )


def _expected(requirement: Requirement, evidence: Evidence, now: int) -> Window:
    """When the last of the parts is expected to be cold enough; without a moment where one of them can't be foretold."""
    u = evidence.uncertainty.get("part_temperature", 0.0)
    ahead = [outlook(part.series, now, u) for part in evidence.parts]
    cold = [None if one is None else falls_to(requirement.high, one, now) for one in ahead]
    if None in cold:
        return Window(None, None)
    last = the_last(cold)
    return Window(last.at, None, last.sooner_us, last.later_us)


def _speaks_at(series: Series, end: int) -> bool:
    """Whether the newest reading isn't too old by then."""
    return len(series) > 0 and end - int(series.times[-1]) < series.max_age_us
