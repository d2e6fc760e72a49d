"""What the rules share: making a finding, telling a value beside its limit, and the gaps that a span can bear."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from booth.judge.evidence import UNKNOWN, Evidence
from booth.judge.finding import Finding, Verdict
from booth.physics.decision import CERTAIN, conformity_probability
from booth.shop.requirement import Requirement
from booth.times import SECOND
from booth.units import KINDS, show

NEAR = ", which is within the measurement uncertainty of the limit"
SEVERITY = (Verdict.MET, Verdict.UNPROVEN, Verdict.MISSED)
"""From good to bad."""


def finding(requirement: Requirement, evidence: Evidence, as_of: int, verdict: Verdict, sentence: str, **known: Any) -> Finding:
    """A finding of this requirement; whatever the rule knows beyond the verdict goes in by name."""
    start, end = evidence.span(as_of)
    details = {
        "final": evidence.final(as_of),
        "quantity": requirement.quantity,
        "low": requirement.low,
        "high": requirement.high,
        "start": start if evidence.start is not None else None,
        "end": end if evidence.start is not None else None,
        "span_source": evidence.span_source,
    } | known
    details["probability"] = _probability(details, verdict, requirement.guarded)
    return Finding(
        requirement=requirement.id,
        kind=requirement.kind,
        step=requirement.step,
        verdict=verdict,
        sentence=sentence,
        source=requirement.source,
        **details,
    )


def _probability(details: dict[str, Any], verdict: Verdict, guarded: bool) -> float | None:
    """Of conformity (JCGM 106), out of how far inside its limits the value is and how well it is known.

    None where the verdict is open for another reason: what wasn't measured has no probability.
    """
    inside, u = details.get("margin"), details.get("uncertainty")
    if inside is None or not u or not details["final"]:
        return None
    known = details.get("probability")
    probability = conformity(inside, u, details["low"], details["high"]) if known is None else known
    near = guarded and 1 - CERTAIN < probability < CERTAIN
    return probability if verdict is not Verdict.UNPROVEN or near else None


def conformity(inside: float, expanded_uncertainty: float, low: float | None, high: float | None) -> float:
    """Probability that the true value lies within its limits, `inside` being how far the measured one does."""
    width = high - low if low is not None and high is not None else None
    return float(conformity_probability(inside, 0.0, width, expanded_uncertainty / 2))


def between_moments_s(evidence: Evidence, *sources: str) -> float:
    """Expanded uncertainty of a length of time, from those of its ends, which have nothing to do with each other (GUM 5.1.2)."""
    return math.hypot(*(evidence.moments.get(source, 0) for source in sources)) / SECOND


def margin(observed: float | None, low: float | None, high: float | None) -> float | None:
    """How far inside the limits a value is; negative outside."""
    if observed is None:
        return None
    ends = [observed - low] if low is not None else []
    ends += [high - observed] if high is not None else []
    return min(ends) if ends else None


def worst_verdict(verdicts: Iterable[Verdict]) -> Verdict:
    """Missed over unproven over met."""
    return max(verdicts, key=SEVERITY.index)


def so_far(final: bool) -> str:
    """What a sentence about a span that goes on begins with."""
    return "" if final else "So far: "


def part_uncertainty(requirement: Requirement, evidence: Evidence) -> float:
    """The guard band of a part probe: nothing under simple acceptance."""
    return evidence.uncertainty.get("part_temperature", 0.0) if requirement.guarded else 0.0


def stated(uncertainty: float) -> float | None:
    """An uncertainty fit for a finding: None where there is none, or where the instrument's is not known."""
    return uncertainty if 0 < uncertainty < UNKNOWN / 1000 else None


def shown(value: float, requirement: Requirement) -> str:
    """A value for people, with as many digits as it takes to tell it from a limit that it isn't at."""
    limits = [limit for limit in (requirement.low, requirement.high) if limit is not None and limit != value]
    digits = KINDS[requirement.quantity].digits
    for more in range(3):
        text = show(value, requirement.quantity, digits + more)
        if all(text != show(limit, requirement.quantity, digits + more) for limit in limits):
            return text
    return text


def limit_words(low: float | None, high: float | None, quantity: str) -> str:
    """`at least 3.0 K`, `at most 75 %`, `20.0 °C to 30.0 °C`."""
    if low is None:
        return f"at most {show(high, quantity)}"
    if high is None:
        return f"at least {show(low, quantity)}"
    return f"{show(low, quantity)} to {show(high, quantity)}"


def bearable_gap_us(span_us: int) -> int:
    """A gap that a span of this length can bear: 5 % of it, but 15 s at least and 2 min at most.

    Because 95 % of four hours would let a quarter of an hour go unseen.
    """
    return int(min(max(0.05 * span_us, 15 * SECOND), 120 * SECOND))
