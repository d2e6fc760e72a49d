"""Heating rate: no part may warm faster than its material bears, over a stated length of time so that noise is no rate."""

from __future__ import annotations

import math

import numpy as np

from booth.judge.evidence import Evidence, Part
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import bearable_gap_us, finding, shown, so_far, stated
from booth.judge.rules.parts import NO_PROBE, longest_silence_us, place_of, unprobed
from booth.judge.series import Series
from booth.physics.scatter import scatter
from booth.shop.requirement import RateTerms, Requirement
from booth.times import MINUTE, duration_text
from booth.units import show


def judge_heating_rate(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None before the bake."""
    if evidence.start is None:
        return None
    terms: RateTerms = requirement.terms
    if not evidence.parts:
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"Heating rate is unproven: {NO_PROBE}")
    start, end = evidence.span(as_of)
    rates = [fastest(part.series, start, end, terms.over_us) for part in evidence.parts]
    silent = max(longest_silence_us(part.series, start, end) for part in evidence.parts)
    index = max(range(len(rates)), key=lambda one: -np.inf if rates[one] is None else rates[one])
    part, observed = evidence.parts[index], rates[index]
    u = _uncertainty(part, start, end, terms.over_us, evidence.uncertainty.get("part_temperature", 0.0))
    final = evidence.final(as_of)
    verdict, but = _verdict(
        rates, observed, requirement.high, u if requirement.guarded else 0.0, silent, bearable_gap_us(end - start), final
    )
    unseen = unprobed(terms.substrates, evidence.parts)
    if unseen and verdict is Verdict.MET:
        verdict = Verdict.UNPROVEN
    limit = f"limit at most {show(requirement.high, 'heating_rate')} over {duration_text(terms.over_us)}"
    place = place_of(part, evidence.parts)
    if observed is None:
        sentence = f"{so_far(final)}Heating rate is unproven: too few readings ({limit})"
    else:
        sentence = f"{so_far(final)}The fastest part ({place}) warmed by {shown(observed, requirement)}{but}{unseen} ({limit})"
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        sentence,
        observed=observed,
        margin=None if observed is None else requirement.high - observed,
        zone=None if observed is None else part.zone,
        largest_gap_us=silent,
        uncertainty=stated(u),
    )


def _uncertainty(part: Part, start: int, end: int, over_us: int, u: float) -> float:
    """Expanded, in K/min. What two readings of one probe have in common drops out of their difference; their noise doesn't.

    Of many differences the largest is looked for, and noise alone makes it larger: by sqrt(2 ln n) standard deviations for n
    independent ones (extreme values of the normal distribution), which is more than the 2 of a single one.
    """
    if stated(u) is None:
        return u
    inside = (part.series.times >= start) & (part.series.times <= end)
    times, values = part.series.times[inside], part.series.values[inside]
    chances = max(2.0, math.sqrt(2 * math.log(max(2, len(values)))))
    return chances * 2**0.5 * scatter(times, values, part.series.max_age_us) / (over_us / MINUTE)


def _verdict(
    rates: list[float | None], observed: float | None, limit: float, u: float, silent: int, bearable: int, final: bool
) -> tuple[Verdict, str]:
    if observed is not None and observed > limit + u:
        return Verdict.MISSED, ""
    if None in rates or silent > bearable:
        return Verdict.UNPROVEN, f", but a probe was silent for {duration_text(silent)}"
    if observed > limit - u:
        return Verdict.UNPROVEN, ", which is within the measurement uncertainty of the limit"
    return Verdict.MET if final else Verdict.UNPROVEN, ""


def fastest(series: Series, start: int, end: int, over_us: int) -> float | None:
    """The largest rise in K/min over the length of time, within [start, end] and not across gaps; None if too short."""
    inside = (series.times >= start) & (series.times <= end)
    times, values = series.times[inside], series.values[inside]
    earlier = times - over_us
    usable = earlier >= times[:1] if len(times) else np.zeros(0, bool)
    if not usable.any():
        return None
    before = np.interp(earlier[usable], times, values)
    breaks = np.concatenate(([0], np.cumsum(np.diff(times) > series.max_age_us)))
    unbroken = breaks[usable] == breaks[np.searchsorted(times, earlier[usable], side="right") - 1]
    rise = (values[usable] - before)[unbroken] / (over_us / MINUTE)
    return float(rise.max()) if len(rise) else None
