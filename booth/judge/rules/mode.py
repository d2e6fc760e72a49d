"""The booth must be in the mode of the step: limits bound to a mode prove nothing about a step done in another."""

from __future__ import annotations

import numpy as np

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import finding, so_far
from booth.judge.track import excursions, hold
from booth.judge.weigh import Pieces, weigh
from booth.shop.requirement import ModeTerms, Requirement
from booth.times import duration_text


def judge_mode(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None before the step begins."""
    if evidence.start is None:
        return None
    terms: ModeTerms = requirement.terms
    series = evidence.series.get("mode")
    if series is None:
        sentence = "The booth's mode is unproven: no point tells it"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence, coverage=0.0)
    track = hold(series, *evidence.span(as_of))
    known = ~np.isnan(track.values)
    other = ~np.isin(track.values, [evidence.modes.index(mode) for mode in terms.modes if mode in evidence.modes])
    found = excursions(track, other, np.ones(len(other)))
    weight = weigh(Pieces(track.edges, other & known, other, known, np.ones(len(other), bool)), found, terms.grace_us)
    final = evidence.final(as_of)
    wanted = " or ".join(terms.modes)
    if weight.verdict is Verdict.MISSED:
        longest = max(found, key=lambda stretch: stretch.length)
        word = evidence.modes[int(longest.worst)]
        sentence = f"The booth was in mode {word} instead of {wanted} for {duration_text(longest.length)}"
    elif weight.verdict is Verdict.UNPROVEN:
        sentence = f"{so_far(final)}The booth's mode is unproven: {weight.why}"
    else:
        sentence = f"{so_far(final)}The booth was in mode {wanted}"
    return finding(
        requirement,
        evidence,
        as_of,
        Verdict.UNPROVEN if weight.verdict is Verdict.MET and not final else weight.verdict,
        sentence,
        coverage=weight.coverage,
        largest_gap_us=weight.largest_gap_us,
        excursions=tuple(found),
    )
