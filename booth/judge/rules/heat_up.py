"""Heat-up: the coldest part must reach a temperature within its time from the start of the bake. The part, not the air.

A part has reached it when a reading says so: nothing is interpolated, so a reading that comes after the latest moment can't take
a miss back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from booth.judge.evidence import Evidence, Part
from booth.judge.finding import Finding, Verdict, Window
from booth.judge.judging import NEAR, between_moments_s, finding, so_far, stated, worst_verdict
from booth.judge.rules.parts import NO_PROBE, place_of, unprobed, was_watched
from booth.judge.series import Series
from booth.shop.requirement import HeatUpTerms, Requirement
from booth.times import SECOND, duration_text
from booth.units import show


@dataclass(frozen=True)
class _Climb:
    """One part on its way up."""

    part: Part
    reached: int | None  # by what was shown
    surely: int | None  # even if the probe shows too much by its uncertainty
    perhaps: int | None  # if it shows too little
    last: float | None  # its last reading, where it isn't there yet
    verdict: Verdict


def judge_heat_up(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None before the bake. Missed as soon as the time is over and a part in sight isn't there."""
    if evidence.start is None:
        return None
    terms: HeatUpTerms = requirement.terms
    if not evidence.parts:
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"Heat-up is unproven: {NO_PROBE}")
    start, now = evidence.span(as_of)
    latest = start + terms.within_us
    moments_s = between_moments_s(evidence, evidence.span_source)
    # Up to so much later the bake may have begun: a part that gets there by then can still be in time.
    band = round(moments_s * SECOND) if requirement.guarded else 0
    over = evidence.final(as_of) or now > latest + band
    u = evidence.uncertainty.get("part_temperature", 0.0)
    climbs = [_climb(part, requirement, evidence, u, band, over, as_of) for part in evidence.parts]
    verdict = worst_verdict(one.verdict for one in climbs)
    but = unprobed(terms.substrates, evidence.parts)
    slowest = max(climbs, key=lambda one: (one.verdict is verdict, now + 1 if one.reached is None else one.reached))
    observed = None if any(one.reached is None for one in climbs) else (slowest.reached - start) / 1e6
    limit = f"limit {show(terms.to_c, 'temperature')} within {duration_text(terms.within_us)} of the start of the bake"
    if but and verdict is Verdict.MET:
        verdict = Verdict.UNPROVEN
    place = place_of(slowest.part, evidence.parts)
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        f"{so_far(over or verdict is Verdict.MET)}{_said(slowest, terms, place, start, latest)}{but} ({limit})",
        final=over or verdict is Verdict.MET,
        observed=observed,
        margin=None if observed is None else requirement.high - observed,
        uncertainty=_uncertainty_s(slowest, moments_s) if stated(u) is not None else None,
        zone=slowest.part.zone,
        window=Window(None, latest),
    )


def _climb(part: Part, requirement: Requirement, evidence: Evidence, u: float, band: int, over: bool, as_of: int) -> _Climb:
    """Where the rule is guarded, both the probe and the start of the bake may be wrong by their uncertainties."""
    terms: HeatUpTerms = requirement.terms
    start, now = evidence.span(as_of)
    latest = start + terms.within_us
    shown, surely, perhaps = (reached_at(part.series, terms.to_c + by, start, now) for by in (0.0, u, -u))
    seen = part.series.until(now)
    last = float(seen.values[-1]) if len(seen) and shown is None else None
    least, most = (surely, perhaps) if requirement.guarded else (shown, shown)
    if least is not None and least <= latest - band:
        verdict = Verdict.MET
    elif over and (most is None or most > latest + band) and was_watched(part.series, start, min(now, latest + band)):
        verdict = Verdict.MISSED
    else:
        verdict = Verdict.UNPROVEN
    return _Climb(part, shown, surely, perhaps, last, verdict)


def _uncertainty_s(climb: _Climb, moments_s: float) -> float | None:
    """Of the time that it took: by how much earlier or later the part would have been there with another probe of its kind."""
    if climb.reached is None or climb.surely is None or climb.perhaps is None:
        return None
    probe_s = max(climb.surely - climb.reached, climb.reached - climb.perhaps) / SECOND
    return stated(math.hypot(probe_s, moments_s))


def reached_at(series: Series, target_c: float, start: int, end: int) -> int | None:
    """When a reading in force in [start, end] first was at or above a temperature."""
    first = max(0, int(np.searchsorted(series.times, start, side="right")) - 1)
    past = int(np.searchsorted(series.times, end, side="right"))
    in_force = series.times[first:past] + series.max_age_us > start
    hits = np.flatnonzero((series.values[first:past] >= target_c) & in_force)
    return max(start, int(series.times[first + hits[0]])) if len(hits) else None


def _said(climb: _Climb, terms: HeatUpTerms, place: str, start: int, latest: int) -> str:
    target = show(terms.to_c, "temperature")
    if climb.reached is None:
        last = "it had no reading" if climb.last is None else f"its last reading was {show(climb.last, 'temperature')}"
        return f"The coldest part ({place}) has not reached {target} for certain: {last}"
    late = f", {duration_text(climb.reached - latest)} too late" if climb.reached > latest else ""
    unseen = ""
    if climb.verdict is Verdict.UNPROVEN:
        unseen = NEAR if climb.surely != climb.perhaps else ", and when exactly was out of sight"
    return f"The coldest part ({place}) reached {target} after {duration_text(climb.reached - start)}{late}{unseen}"
