"""Dwell: the coldest part must have its time at temperature, summed at the pace that the sheet tabulates.

An interruption (the part falls below a temperature that it had reached) pauses the sum, starts it anew, goes unheeded, or is not
stated: then it is unproven wherever the rules would differ, until the supervisor decides. The best attempt counts.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from booth.judge.clockwork import Reckoning, Spell, attempts, reckon, spells_of
from booth.judge.evidence import Evidence, Part
from booth.judge.finding import Finding, Verdict, Window
from booth.judge.judging import finding, so_far, stated
from booth.judge.outlook import expected_end, outlook, the_last
from booth.judge.rules.parts import NO_PROBE, place_of, unprobed
from booth.judge.series import Series
from booth.judge.track import hold
from booth.shop.requirement import DwellTerms, Requirement
from booth.times import duration_text

_RULE_WORDS = {
    "pause": "paused the sum",
    "restart": "started the sum anew",
    "go_on": "didn't stop the sum",
    "not_stated": "not covered by the sheet: the supervisor decides",
}


def judge_dwell(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None before the bake. Met as soon as the dwell is done; missed only when the bake is over."""
    if evidence.start is None:
        return None
    terms: DwellTerms = requirement.terms
    drivers = _drivers(terms, evidence)
    if not drivers or terms.pace.is_fixed:
        why = "the sheet's dwell names no temperature" if terms.pace.is_fixed else NO_PROBE
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"Dwell is unproven: {why}")
    start, end = evidence.span(as_of)
    u = evidence.uncertainty.get("part_temperature" if terms.driven_by != "air" else "air_temperature", 0.0)
    nominal = [_reckon(terms, part, start, end, 0.0) for part in drivers]
    reckoned = [_reckon(terms, part, start, end, u) for part in drivers] if requirement.guarded else nominal
    coldest = min(range(len(drivers)), key=lambda index: reckoned[index][0].least)
    reckoning, interruptions = reckoned[coldest]
    observed = nominal[coldest][0].least
    final = evidence.final(as_of)
    own_u = _uncertainty(terms, drivers[coldest], start, end, u)
    but = unprobed(terms.substrates, drivers) if terms.driven_by == "part" else ""
    if all(one.is_certain(final) for one, _ in reckoned):
        verdict = Verdict.UNPROVEN if but else Verdict.MET
    else:
        verdict = Verdict.MISSED if final and min(one.most for one, _ in reckoned) < 1 else Verdict.UNPROVEN
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        _sentence(terms, place_of(drivers[coldest], drivers), observed, reckoning, interruptions, verdict, final) + but,
        observed=observed,
        margin=observed - 1,
        uncertainty=own_u,
        zone=drivers[coldest].zone,
        window=_expected(terms, drivers, [one for one, _ in nominal], own_u or 0.0, end, u, final),
    )


def _drivers(terms: DwellTerms, evidence: Evidence) -> list[Part]:
    if terms.driven_by != "air":
        return list(evidence.parts)
    return [Part("air", "air", "air", air)] if (air := evidence.series.get("air_temperature")) is not None else []


def _reckon(terms: DwellTerms, part: Part, start: int, end: int, band: float) -> tuple[Reckoning, int]:
    """Progress of one part and its interruptions; a guarded rule lets the thermometer be wrong by its uncertainty either way."""
    low, high = part.series.shifted(-band), part.series.shifted(band)
    spells = _spells(terms, low, start, end)
    least, _ = attempts(spells, terms.interruption)
    _, most = attempts(_spells(terms, high, start, end), terms.interruption)
    least_favourable = reckon(terms.pace, "minimum", low, least, [])
    most_favourable = reckon(terms.pace, "minimum", high, [], most)
    ends = [spell.end for spell in spells if spell.state == "in"]
    interruptions = sum(spell.state == "out" and spell.end < max(ends, default=0) for spell in spells)
    return replace(least_favourable, most=most_favourable.most), interruptions


def _uncertainty(terms: DwellTerms, part: Part, start: int, end: int, u: float) -> float | None:
    """Expanded, of the progress: the larger of what a thermometer that shows too much, or too little, by its own makes of it."""
    if stated(u) is None:
        return None
    shifted = (replace(part, series=part.series.shifted(by)) for by in (-u, 0.0, u))
    low, middle, high = (_reckon(terms, one, start, end, 0.0)[0].least for one in shifted)
    return stated(max(middle - low, high - middle))


def _spells(terms: DwellTerms, series: Series, start: int, end: int) -> list[Spell]:
    """Where the part had fallen below a temperature that it had reached. Without one stated, the lowest of the table."""
    below = terms.pace.temperatures_c[0] if terms.below_c is None else terms.below_c
    track = hold(series, start, end)
    fallen = (track.values < below) & np.logical_or.accumulate(track.values >= below)
    return spells_of(track.edges, fallen, np.isnan(track.values))


def _expected(
    terms: DwellTerms, drivers: list[Part], reckonings: list[Reckoning], own_u: float, end: int, u: float, final: bool
) -> Window | None:
    """When the dwell was done, or is expected to be; nothing before it has begun, None where it ended before it was done.

    `own_u` is of the progress, `u` in kelvin.
    """
    if any(one.least == 0 for one in reckonings):
        return Window(None, None)
    ends = [
        expected_end(terms.pace, "minimum", None if final else outlook(part.series, end, u), end, one, own_u, final)
        for part, one in zip(drivers, reckonings, strict=True)
    ]
    if None in ends:
        return None
    last = the_last(ends)
    return Window(last.at, None, last.sooner_us, last.later_us)


def _sentence(
    terms: DwellTerms,
    place: str,
    observed: float,
    reckoning: Reckoning,
    interruptions: int,
    verdict: Verdict,
    final: bool,
) -> str:
    rows = zip(terms.pace.temperatures_c, terms.pace.times_s, strict=True)
    limit = ", ".join(f"{duration_text(round(time * 1e6))} at {temperature:g} °C" for temperature, time in rows)
    share = _percent(observed)
    parts = [f"{so_far(final)}The coldest part ({place}) had {share} of its dwell (limit {limit})"]
    if interruptions:
        parts.append(f"{interruptions} interruption{'s' if interruptions > 1 else ''} {_RULE_WORDS[terms.interruption]}")
    if verdict is Verdict.UNPROVEN and final and not reckoning.is_certain(final):
        parts.append("what is uncertain or wasn't measured might make up for the rest")
    return ", ".join(parts)


def _percent(share: float) -> str:
    """99.97 % is not 100 %."""
    percent = min(share, 9.99) * 100
    return f"{percent:.0f} %" if share >= 1 or percent < 99 else f"{int(percent * 10) / 10:.1f} %"
