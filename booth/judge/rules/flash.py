"""Time between two coats, per zone: the minimum counts from a zone's last pass, the maximum from its first.

Without zone events both count from the step's own end and start, and the sentence says so. A tabulated minimum is driven by the
coldest part probe, a tabulated maximum by the hottest. The worst zone is the one that is told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from booth.judge.clockwork import Reckoning, Spell, attempts, clipped, reckon, spread
from booth.judge.conditions import conditions_over
from booth.judge.evidence import Evidence
from booth.judge.facts import Pass
from booth.judge.finding import Finding, Verdict, Window
from booth.judge.judging import SEVERITY, between_moments_s, finding, margin, stated
from booth.judge.outlook import Expected, Outlook, expected_end, outlook, the_first, the_last
from booth.judge.rules.flash_words import maximum_sentence, minimum_sentence
from booth.judge.series import Series
from booth.physics.pace import Side
from booth.shop.requirement import FlashTerms, Requirement

MEASURES = {"part": "part_temperature", "pot": "pot_temperature"}
"""What drives a pace -> the measure whose uncertainty it has."""


@dataclass(frozen=True)
class ZoneClock:
    """How far the clock of one zone has got. `ended` says that the next coat has reached the zone."""

    zone: str | None
    since: int
    until: int
    ended: bool
    reckoning: Reckoning
    verdict: Verdict
    uncertainty: float = 0.0  # expanded, of the progress
    near: bool = False  # unproven only because the limit is as near as that
    out_us: int = 0
    unknown_us: int = 0
    ahead: Outlook | None = None  # of the temperature that drives it, while the next coat is awaited
    stands: bool = False  # for all that is known the conditions don't let it run now


def judge_flash_minimum(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None until every pass of the coat before has ended, or a next coat shows that an end was forgotten."""
    if not evidence.before:
        return None
    if any(one.end is None for one in evidence.before):
        if evidence.following is None and not evidence.over:
            return None
        sentence = "Flash-off is unproven: the end of the coat before was not recorded"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence, final=True)
    ends = {zone: max(one.end for one in passes) for zone, passes in _by_zone(evidence).items()}
    clocks = _clocks(requirement, evidence, "minimum", ends, as_of)
    worst = min(clocks, key=lambda one: (-SEVERITY.index(one.verdict), one.reckoning.least))
    done = [_expected(requirement.terms, "minimum", one, evidence.over) for one in clocks]
    sentence = minimum_sentence(requirement, worst, evidence.over)
    window = None
    if None not in done:
        last = the_last(done)
        window = Window(last.at, None, last.sooner_us, last.later_us)
    return _finding(requirement, evidence, as_of, clocks, worst, sentence, window)


def judge_flash_maximum(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None until the coat before has begun."""
    if not evidence.before:
        return None
    starts = {zone: min(one.start for one in passes) for zone, passes in _by_zone(evidence).items()}
    clocks = _clocks(requirement, evidence, "maximum", starts, as_of)
    worst = max(clocks, key=lambda one: (SEVERITY.index(one.verdict), one.reckoning.least))
    ends = [_expected(requirement.terms, "maximum", one, evidence.over) for one in clocks]
    sentence = maximum_sentence(requirement, worst, evidence.over)
    window = None
    if known := [one for one in ends if one is not None]:
        first = the_first(known)
        window = Window(None, first.at, first.sooner_us, first.later_us)
    return _finding(requirement, evidence, as_of, clocks, worst, sentence, window)


def _finding(
    requirement: Requirement,
    evidence: Evidence,
    as_of: int,
    clocks: list[ZoneClock],
    worst: ZoneClock,
    sentence: str,
    window: Window | None,
) -> Finding:
    progress = worst.reckoning.least
    observed = progress * requirement.terms.pace.times_s[0] if requirement.quantity == "duration" else progress
    return finding(
        requirement,
        evidence,
        as_of,
        worst.verdict,
        sentence,
        final=evidence.over or all(one.ended for one in clocks),
        observed=observed,
        margin=margin(observed, requirement.low, requirement.high),
        uncertainty=stated(worst.uncertainty * (observed / progress if progress else requirement.terms.pace.times_s[0])),
        zone=worst.zone,
        window=window,
    )


def _by_zone(evidence: Evidence) -> Mapping[str | None, list[Pass]]:
    """Passes by zone; one that names no zone was over the whole van, and counts for every zone that either coat names."""
    passes = evidence.before
    if all(one.zone is None for one in passes):
        return {None: list(passes)}
    zones = dict.fromkeys(one.zone for one in (*passes, *evidence.after) if one.zone is not None)
    by_zone = {zone: [one for one in passes if one.zone in (zone, None)] for zone in zones}
    return {zone: own for zone, own in by_zone.items() if own}


def _clocks(
    requirement: Requirement, evidence: Evidence, side: Side, since: Mapping[str | None, int], as_of: int
) -> list[ZoneClock]:
    """One clock for each zone."""
    now, terms = evidence.latest(as_of), requirement.terms
    reached = {zone: _next_coat(evidence, zone) for zone in since}
    until = {zone: max(since[zone], now if reached[zone] is None else min(reached[zone], as_of)) for zone in since}
    spells = [Spell(min(since.values()), max(until.values()), "in")]
    if terms.conditions and terms.out_of_limits != "go_on":
        spells = conditions_over(terms.conditions, evidence, spells[0].start, spells[0].end, requirement.guarded)
    moments = _moments_s(evidence, any(one is not None for one in reached.values()))
    return [
        _clock(requirement, evidence, side, zone, (since[zone], until[zone]), reached[zone] is not None, spells, moments)
        for zone in since
    ]


def _moments_s(evidence: Evidence, ended: bool) -> float:
    """How well the time between the two coats is known; while the next one is awaited, now is."""
    sources = [evidence.before[0].source]
    sources += [evidence.after[0].source if evidence.after else evidence.span_source] if ended else []
    return between_moments_s(evidence, *sources)


def _clock(
    requirement: Requirement,
    evidence: Evidence,
    side: Side,
    zone: str | None,
    span: tuple[int, int],
    ended: bool,
    spells: list[Spell],
    moments_s: float,
) -> ZoneClock:
    terms: FlashTerms = requirement.terms
    own = clipped(spells, *span)
    least, most = attempts(own, terms.out_of_limits)
    drivers = _drivers(terms, evidence)
    reckonings = [reckon(terms.pace, side, series, least, most) for series in drivers]
    pick = min if side == "minimum" else max
    deciding = pick(range(len(drivers)), key=lambda index: reckonings[index].least)
    most, perhaps = (pick(getattr(one, name) for one in reckonings) for name in ("most", "perhaps"))
    reckoning = replace(reckonings[deciding], most=most, perhaps=perhaps)
    thermometer = evidence.uncertainty.get(MEASURES.get(terms.driven_by, "air_temperature"), 0.0)
    # A second more or less counts at the pace that the clock had; one that stood still would have counted at its own.
    counted = reckoning.most if reckoning.most < math.inf else reckoning.least
    seconds = (span[1] - span[0]) / 1e6
    pace = counted / seconds if counted and not terms.pace.is_fixed else 1 / min(terms.pace.times_s)
    u = math.hypot(moments_s * pace, spread(terms.pace, side, drivers[deciding], least, thermometer))
    verdict = _verdict(reckoning, side, ended, u if requirement.guarded else 0.0)
    out, unknown = (sum(end - start for start, end, state in own if state == name) for name in ("out", "unknown"))
    near = verdict is not _verdict(reckoning, side, ended, 0.0)
    ahead = None if ended else outlook(drivers[deciding], span[1], thermometer)
    return ZoneClock(zone, *span, ended, reckoning, verdict, u, near, out, unknown, ahead, bool(own) and own[-1].state != "in")


def _verdict(reckoning: Reckoning, side: Side, ended: bool, band: float) -> Verdict:
    """A minimum can only be missed by the next coat; a maximum is missed by time alone, and met only by the next coat."""
    if side == "minimum":
        if reckoning.is_certain(ended) and reckoning.least - band >= 1:
            return Verdict.MET
        return Verdict.MISSED if ended and reckoning.most + band < 1 else Verdict.UNPROVEN
    if reckoning.least - band > 1:
        return Verdict.MISSED
    return Verdict.MET if ended and reckoning.most + band <= 1 else Verdict.UNPROVEN


def _next_coat(evidence: Evidence, zone: str | None) -> int | None:
    """When the next coat reached this zone; without its zone events, when it began."""
    own = [one.start for one in evidence.after if zone is not None and one.zone in (zone, None)]
    return min(own) if own else evidence.following


def _drivers(terms: FlashTerms, evidence: Evidence) -> list[Series | None]:
    if terms.pace.is_fixed:
        return [None]
    if terms.driven_by == "part":
        return [part.series for part in evidence.parts] or [None]
    return [evidence.series.get("pot_temperature" if terms.driven_by == "pot" else "air_temperature")]


def _expected(terms: FlashTerms, side: Side, clock: ZoneClock, over: bool) -> Expected | None:
    """When the clock reached its limit, or is expected to; None where it ended before. One that stands may never get there."""
    over = over or clock.ended
    found = expected_end(terms.pace, side, clock.ahead, clock.until, clock.reckoning, clock.uncertainty, over)
    if found is None or over or not clock.stands or clock.reckoning.done_at is not None:
        return found
    return replace(found, later_us=None)
