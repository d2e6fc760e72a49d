"""Pot life and induction: the clock of a mix, from mixing, at the temperature of the pot. Re-thinning doesn't reset it."""

from __future__ import annotations

import math

from booth.judge.clockwork import Attempt, Reckoning, reckon, spread
from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict, Window
from booth.judge.judging import NEAR, between_moments_s, finding, margin, stated
from booth.judge.outlook import expected_end, outlook
from booth.judge.rules.flash_words import time_words
from booth.judge.series import Series
from booth.physics.pace import Side
from booth.shop.requirement import PotTerms, Requirement
from booth.times import duration_text

_DRIVERS = ("pot_temperature", "air_temperature")


def judge_pot_life(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """From the mixing to the end of the coat that used it, at most one pot life."""
    return _judge(requirement, evidence, as_of, "maximum")


def judge_induction(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """From the mixing to the first use, at least the induction time."""
    return _judge(requirement, evidence, as_of, "minimum")


def _judge(requirement: Requirement, evidence: Evidence, as_of: int, side: Side) -> Finding | None:
    if evidence.start is None:
        return None
    start, end = evidence.span(as_of)
    final = evidence.final(as_of) or side == "minimum"
    mix, lacking = evidence.mix, ""
    if mix is None:
        lacking = f"mix {evidence.mix_named} is not in the journal" if evidence.mix_named else "the coat names no mix"
    elif mix.time > start:
        lacking = f"mix {mix.mix} is recorded as mixed after it was used"
    if lacking:
        name = "Pot life" if side == "maximum" else "Induction time"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"{name} is unproven: {lacking}", final=final)
    until = end if side == "maximum" else start
    clock = [[(mix.time, until)]]
    terms: PotTerms = requirement.terms
    reckoning = reckon(terms.pace, side, _driver(terms, evidence), clock, clock)
    unit = terms.pace.times_s[0] if requirement.quantity == "duration" else 1.0
    observed, u = reckoning.least * unit, _uncertainty(terms, side, evidence, clock)
    band = u if requirement.guarded else 0.0
    verdict = _verdict(reckoning, side, final, band)
    window = _end_of_life(terms, evidence, until, reckoning, u, final) if side == "maximum" else None
    return finding(
        requirement,
        evidence,
        as_of,
        verdict,
        _sentence(requirement, evidence, reckoning, side, until, final) + _near(verdict, reckoning, band, final),
        final=final,
        observed=observed,
        margin=margin(observed, requirement.low, requirement.high),
        uncertainty=stated(u * unit),
        window=window,
    )


def _uncertainty(terms: PotTerms, side: Side, evidence: Evidence, clock: list[Attempt]) -> float:
    """Of the share of the time that is over: from the moments of mixing and of use, and from the thermometer."""
    moments = between_moments_s(evidence, "entered", evidence.span_source) / min(terms.pace.times_s)
    thermometer = evidence.uncertainty.get(_DRIVERS[terms.driven_by == "air"], 0.0)
    return math.hypot(moments, spread(terms.pace, side, _driver(terms, evidence), clock, thermometer))


def _verdict(reckoning: Reckoning, side: Side, final: bool, band: float) -> Verdict:
    if side == "minimum":
        if reckoning.is_certain(final) and reckoning.least - band >= 1:
            return Verdict.MET
        return Verdict.MISSED if reckoning.most + band < 1 else Verdict.UNPROVEN
    if reckoning.least - band > 1:
        return Verdict.MISSED
    return Verdict.MET if final and reckoning.most + band <= 1 else Verdict.UNPROVEN


def _near(verdict: Verdict, reckoning: Reckoning, band: float, final: bool) -> str:
    return NEAR if final and verdict is Verdict.UNPROVEN and abs(reckoning.least - 1) <= band else ""


def _driver(terms: PotTerms, evidence: Evidence) -> Series | None:
    return evidence.series.get(_DRIVERS[terms.driven_by == "air"])


def _sentence(requirement: Requirement, evidence: Evidence, reckoning: Reckoning, side: Side, until: int, final: bool) -> str:
    terms: PotTerms = requirement.terms
    age = duration_text(until - evidence.mix.time)
    used = "first used" if side == "minimum" else "used up to" if final else "in use"
    share = "" if terms.pace.is_fixed else f", {100 * reckoning.least:.0f} % of it at the {terms.driven_by}'s temperature"
    unknown = f", and the {terms.driven_by}'s temperature was not known throughout" if _in_doubt(reckoning) else ""
    word = "at most" if side == "maximum" else "at least"
    return f"Mix {evidence.mix.mix} was {used} {age} after mixing{share}{unknown} (limit {word} {time_words(requirement)})"


def _in_doubt(reckoning: Reckoning) -> bool:
    return reckoning.most - reckoning.least > 0.01


def _end_of_life(terms: PotTerms, evidence: Evidence, until: int, reckoning: Reckoning, u: float, final: bool) -> Window | None:
    """When the pot was, or will be, too old; None where it was used up before, and nobody knows when that would have been."""
    driver = _driver(terms, evidence)
    thermometer = evidence.uncertainty.get(_DRIVERS[terms.driven_by == "air"], 0.0)
    ahead = None if final else outlook(driver, until, thermometer)
    end = expected_end(terms.pace, "maximum", ahead, until, reckoning, u, final)
    return None if end is None else Window(None, end.at, end.sooner_us, end.later_us)
