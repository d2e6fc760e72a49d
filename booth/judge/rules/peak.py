"""Peak: no part of a kind of surface may become hotter than it bears, judged on the hottest probe on that substrate."""

from __future__ import annotations

import numpy as np

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import bearable_gap_us, finding, part_uncertainty, shown, so_far, stated
from booth.judge.rules.parts import longest_silence_us
from booth.judge.track import coverage, derived, excursions, hold
from booth.physics.decision import certainly_beyond, possibly_beyond
from booth.shop.requirement import PeakTerms, Requirement
from booth.times import duration_text
from booth.units import show


def judge_peak(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None before the bake. One reading too hot is a miss: there is no grace for a blister."""
    if evidence.start is None:
        return None
    terms: PeakTerms = requirement.terms
    parts = [part for part in evidence.parts if part.substrate == terms.substrate]
    if not parts:
        sentence = f"Peak on {terms.substrate} is unproven: no part probe sat on it, and no qualified bake stands in for one"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence)
    start, end = evidence.span(as_of)
    tracks = [hold(part.series, start, end) for part in parts]
    # The hottest of those that speak: a silent probe doesn't hide what another one shows.
    hottest = derived(lambda *held: np.fmax.reduce(held), *tracks)
    band = part_uncertainty(requirement, evidence)
    beyond = certainly_beyond(hottest.values, None, requirement.high, band)
    found = excursions(hottest, beyond, np.nan_to_num(hottest.values, nan=-np.inf))
    known = hottest.values[~np.isnan(hottest.values)]
    observed = float(known.max()) if len(known) else None
    silent = max(longest_silence_us(part.series, start, end) for part in parts)
    final = evidence.final(as_of)
    verdict, why = Verdict.MET if final else Verdict.UNPROVEN, ""
    if found:
        verdict, why = Verdict.MISSED, f", and was too hot for {duration_text(sum(one.length for one in found))}"
    elif observed is None or silent > bearable_gap_us(end - start):
        verdict, why = Verdict.UNPROVEN, f", but a probe was silent for {duration_text(silent)}"
    elif possibly_beyond(known, None, requirement.high, band).any():
        verdict, why = Verdict.UNPROVEN, ", which is within the measurement uncertainty of the limit"
    reading = "no reading" if observed is None else shown(observed, requirement)
    limit = f"limit at most {show(requirement.high, 'temperature')}"
    start_of_sentence = so_far(final or verdict is Verdict.MISSED)
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        f"{start_of_sentence}The hottest part of {terms.substrate} reached {reading}{why} ({limit})",
        observed=observed,
        margin=None if observed is None else requirement.high - observed,
        uncertainty=stated(evidence.uncertainty.get("part_temperature", 0.0)),
        coverage=min(coverage(track) for track in tracks),
        largest_gap_us=silent,
        excursions=tuple(found),
    )
