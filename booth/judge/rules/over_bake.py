"""Over-bake: how long any part has stood at or above a temperature, added up over all rounds."""

from __future__ import annotations

from dataclasses import replace

from booth.judge.evidence import Evidence, Heated, Part
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import finding, so_far, stated
from booth.judge.rules.parts import NO_PROBE, unprobed
from booth.physics.pace import seconds_at_or_above
from booth.shop.requirement import OverBakeTerms, Requirement
from booth.times import duration_text
from booth.units import show

TOLD_S = 60.0
"""A stretch without a reading that is shorter than this changes nothing that is worth a word."""


def judge_over_bake(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None before the bake. Missed as soon as the sum is over the limit."""
    if evidence.start is None:
        return None
    terms: OverBakeTerms = requirement.terms
    if not evidence.parts:
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"Over-bake is unproven: {NO_PROBE}")
    final = evidence.final(as_of)
    this = Heated(*evidence.span(as_of), evidence.parts)
    bakes = [_held(this) if final else this, *map(_held, evidence.earlier)]
    u = evidence.uncertainty.get("part_temperature", 0.0)
    band = u if requirement.guarded else 0.0
    zones = sorted({part.zone for bake in bakes for part in bake.parts})
    least = {zone: sum(_seconds_hot(bake, zone, terms.at_c + band)[0] for bake in bakes) for zone in zones}
    most = {zone: sum(_seconds_hot(bake, zone, terms.at_c - band)[1] for bake in bakes) for zone in zones}
    hottest = max(zones, key=lambda zone: least[zone])
    cool, shown_s, warm = (sum(_seconds_hot(bake, hottest, terms.at_c + by)[0] for bake in bakes) for by in (u, 0.0, -u))
    limit_s = terms.maximum_us / 1e6
    if least[hottest] > limit_s:
        verdict = Verdict.MISSED
    else:
        verdict = Verdict.MET if final and max(most.values()) <= limit_s else Verdict.UNPROVEN
    but = unprobed(terms.substrates, evidence.parts)
    if but and verdict is Verdict.MET:
        verdict = Verdict.UNPROVEN
    unseen_s = max(0.0, most[hottest] - least[hottest] - (warm - cool))
    stood = duration_text(round(shown_s * 1e6))
    if unseen_s >= TOLD_S:  # nobody measured what the part was meanwhile
        stood = f"{stood} as measured, and up to {duration_text(round(most[hottest] * 1e6))} with what was not measured,"
    rounds = f" over {len(bakes)} bakes" if len(bakes) > 1 else ""
    doubt = ""
    if final and verdict is Verdict.UNPROVEN and max(most.values()) > limit_s:
        doubtful = max(zones, key=lambda zone: most[zone])
        doubt = f", and {doubtful} may have stood up to {duration_text(round(most[doubtful] * 1e6))}"
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        f"{so_far(final)}The hottest part ({hottest}) stood {stood} at or above "
        f"{show(terms.at_c, 'temperature')}{rounds}{doubt}{but} (limit at most {duration_text(terms.maximum_us)})",
        observed=shown_s,
        margin=limit_s - (most[hottest] if unseen_s >= TOLD_S else shown_s),
        uncertainty=stated(max(shown_s - cool, warm - shown_s)) if stated(u) is not None else None,
        zone=hottest,
    )


def _held(bake: Heated) -> Heated:
    """With each part's last reading held to the end. Not while the bake goes on: the next reading may be colder than that."""
    return replace(bake, parts=tuple(replace(part, series=part.series.held_to(bake.end)) for part in bake.parts))


def _seconds_hot(bake: Heated, zone: str, at_c: float) -> tuple[float, float]:
    """Seconds at or above for sure, and at the most, of the hottest part in the zone; one without a probe may have been."""
    known = [_part_hot(part, at_c, bake) for part in bake.parts if part.zone == zone]
    if not known:
        return 0.0, (bake.end - bake.start) / 1e6
    return max(hot for hot, _ in known), max(hot + unseen for hot, unseen in known)


def _part_hot(part: Part, at_c: float, bake: Heated) -> tuple[float, float]:
    if not len(part.series):
        return 0.0, (bake.end - bake.start) / 1e6
    series = part.series
    return tuple(seconds_at_or_above(series.times, series.values, at_c, series.max_age_us, start_us=bake.start, end_us=bake.end))
