"""Purge: how many volumes of fresh air the recorded flow equals. It never says "purged"."""

from __future__ import annotations

import math

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import between_moments_s, finding, shown, so_far, stated
from booth.physics.ventilation import volumes_exchanged
from booth.shop.requirement import Requirement
from booth.times import duration_text
from booth.units import show


def judge_purge(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None before the purge begins. Met as soon as the volumes are recorded, missed only when it is over."""
    if evidence.start is None:
        return None
    series = evidence.series.get("air_flow")
    if series is None or evidence.volume_m3 is None:
        lacking = "no point of this booth measures the air flow" if series is None else "the booth's volume is not stated"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"The fresh air before the bake is unproven: {lacking}")
    start, end = evidence.span(as_of)
    outside = _outside(evidence, end)
    if outside is not None:
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"The fresh air before the bake is unproven: {outside}")
    final = evidence.final(as_of)
    flow = series.held_to(end) if final else series
    volumes, missing_s = volumes_exchanged(
        flow.times, flow.values, evidence.volume_m3, flow.max_age_us, start_us=start, end_us=end
    )
    u, seconds = evidence.uncertainty.get("air_flow", 0.0), (end - start) / 1e6
    # A flow meter's error is the same for the whole purge; a second more or less of it counts at its mean flow.
    moments = between_moments_s(evidence, evidence.span_source, *([evidence.span_source] if final else []))
    spread = math.hypot(u * seconds / evidence.volume_m3, moments * volumes / seconds if seconds else 0.0)
    band = spread if requirement.guarded else 0.0
    # What nobody saw was no more, at its most favourable, than the most that was seen.
    unseen = missing_s * (float(flow.values.max()) if len(flow) else 0.0) / evidence.volume_m3
    verdict = Verdict.UNPROVEN
    if volumes - band >= requirement.low:
        verdict = Verdict.MET
    elif final and len(flow) and volumes + band + unseen < requirement.low:
        verdict = Verdict.MISSED
    silent = f", with no reading for {duration_text(round(missing_s * 1e6))}" if final and missing_s > 0.5 else ""
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        f"{so_far(final)}Flow recorded over {duration_text(end - start)} equals {shown(volumes, requirement)}{silent} "
        f"(limit at least {show(requirement.low, 'volumes')})",
        observed=volumes,
        margin=volumes - requirement.low,
        uncertainty=stated(spread),
    )


def _outside(evidence: Evidence, end: int) -> str | None:
    """Why this purge is none between the last coat and the bake: solvent sprayed after it, or a burner lit before it ended."""
    ends = [one.end for one in evidence.before]
    if None in ends:
        return "the end of the last coat was not recorded"
    if ends and end <= max(ends):
        return "the purge ended before the last coat did"
    if evidence.following is not None and end > evidence.following:
        return "the purge had not ended when the bake started"
    return None
