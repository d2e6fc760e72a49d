"""A measure that must stay between limits while a step lasts: an excursion longer than the grace is missed."""

from __future__ import annotations

import math

import numpy as np

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import conformity, finding, limit_words, margin, shown, so_far, stated
from booth.judge.measured import Measured, measure
from booth.judge.track import Stretch, Track, excursions
from booth.judge.weigh import Pieces, Weight, sustained, weigh
from booth.shop.measures import WORDS
from booth.shop.requirement import ClimateTerms, Requirement
from booth.times import duration_text
from booth.units import show


def judge_climate(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None before the step begins."""
    if evidence.start is None:
        return None
    terms: ClimateTerms = requirement.terms
    start, end = evidence.span(as_of)
    measured = measure(terms.limit, evidence, start, end, terms.modes)
    why = measured.missing
    if why is None and len(measured.low) and not measured.applicable.any():
        why = f"the booth was never in mode {' or '.join(terms.modes or ())} during this step"
    if why is not None:
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"{_name(terms)} is unproven: {why}", coverage=0.0)
    return _weighed(requirement, evidence, as_of, measured)


def _weighed(requirement: Requirement, evidence: Evidence, as_of: int, measured: Measured) -> Finding:
    terms: ClimateTerms = requirement.terms
    certain, possible = measured.beyond(terms.limit, requirement.guarded)
    pieces = Pieces(measured.edges, certain & measured.applicable, possible, measured.known, measured.applicable)
    excess = _excess(measured, terms)
    track = Track(measured.edges, np.where(_low_is_worse(measured, terms), measured.low, measured.high))
    found = excursions(track, pieces.beyond, excess)
    weight = weigh(pieces, found, terms.grace_us, terms.coverage, terms.largest_gap_us)
    final = evidence.final(as_of)
    # A span that goes on has proven nothing yet.
    verdict = Verdict.UNPROVEN if weight.verdict is Verdict.MET and not final else weight.verdict
    usable = measured.applicable & ~np.isnan(track.values)
    worst = int(np.argmax(np.where(usable, excess, -np.inf))) if usable.any() else None
    observed = None if worst is None else float(track.values[worst])
    u = None if worst is None else stated(float(measured.uncertainty_at(measured.edges[[worst]])[0]))
    inside = margin(observed, requirement.low, requirement.high)
    known = {}
    if final and u is not None and inside < 4 * u:  # else the worst reading alone is as sure as can be
        decisive = -sustained(measured.edges, np.where(measured.applicable, excess, -np.inf), terms.grace_us)
        known["probability"] = conformity(decisive, u, requirement.low, requirement.high)
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        _sentence(requirement, evidence, measured, usable, found, weight, final),
        observed=observed,
        margin=inside,
        uncertainty=u,
        coverage=weight.coverage,
        largest_gap_us=weight.largest_gap_us,
        excursions=tuple(found),
        **known,
    )


def _excess(measured: Measured, terms: ClimateTerms) -> np.ndarray:
    """How far beyond a limit each piece is; negative inside, -inf where unknown."""
    below = -math.inf if terms.limit.low is None else terms.limit.low - measured.low
    above = -math.inf if terms.limit.high is None else measured.high - terms.limit.high
    return np.nan_to_num(np.maximum(below, above), nan=-np.inf)


def _low_is_worse(measured: Measured, terms: ClimateTerms) -> np.ndarray | bool:
    if terms.limit.low is None or terms.limit.high is None:
        return terms.limit.low is not None
    return terms.limit.low - measured.low > measured.high - terms.limit.high


def _sentence(
    requirement: Requirement,
    evidence: Evidence,
    measured: Measured,
    usable: np.ndarray,
    found: list[Stretch],
    weight: Weight,
    final: bool,
) -> str:
    limit = limit_words(requirement.low, requirement.high, requirement.quantity)
    subject = _name(requirement.terms) + _surface(requirement.terms, evidence)
    if weight.verdict is Verdict.MISSED:
        return f"{subject} was out of its limit ({limit}) for {_longest(found, requirement, int(measured.edges[0]))}"
    if not usable.any():
        return f"{subject} is unproven: {weight.why or 'nothing was measured'}"
    least, most = shown(float(measured.low[usable].min()), requirement), shown(float(measured.high[usable].max()), requirement)
    between = f"at {least}" if least == most else f"between {least} and {most}"
    if weight.why:
        return f"{so_far(final)}{subject} is unproven: {weight.why}; what was measured lay {between} (limit {limit})"
    brief = f", with {duration_text(sum(s.length for s in found))} beyond it within the grace" if found else ""
    return f"{so_far(final)}{subject} stayed {between} (limit {limit}){brief}"


def _longest(found: list[Stretch], requirement: Requirement, start: int) -> str:
    longest = max(found, key=lambda stretch: stretch.length)
    others = f", and {len(found) - 1} more excursion{'s' if len(found) > 2 else ''}" if len(found) > 1 else ""
    after = f"from {duration_text(longest.start - start)} after the start" if longest.start > start else "from the start"
    return f"{duration_text(longest.length)}, {after}; worst {shown(longest.worst, requirement)}{others}"


def _name(terms: ClimateTerms) -> str:
    return WORDS[terms.limit.measure].capitalize()


def _surface(terms: ClimateTerms, evidence: Evidence) -> str:
    """How the surface was measured, which a dew-point margin can't do without."""
    if terms.limit.measure != "dew_point_margin":
        return ""
    kelvin = terms.limit.allowance_k
    allowance = f", {show(kelvin, 'temperature_difference')} allowed for evaporation" if kelvin else ""
    return f" (surface {evidence.surface}{allowance})"
