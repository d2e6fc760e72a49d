"""What was wrong with the instruments that a requirement rests on, and how soon this shop's configuration promises to notice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from booth.judge.health.faults import CLOCK_OFF, JUMPING, STALE, STUCK
from booth.judge.health.terms import Terms, terms_of
from booth.shop.shop import Shop
from booth.times import SECOND
from simulators.any_shift import HARMLESS
from simulators.scenario import Fault, Scenario


@dataclass(frozen=True)
class Ill:
    """A fault of a point for `lasted_s` of the stretch that a requirement rests on.

    `seen_within_s`: after how long it must have been found, by the configuration; None where nobody looks for it.
    """

    point: str
    kind: str
    lasted_s: float
    seen_within_s: float | None

    @property
    def overdue(self) -> bool:
        """Whether it lasted longer than it may stay unseen."""
        return self.seen_within_s is not None and self.lasted_s > self.seen_within_s

    def __str__(self) -> str:
        return f"{self.point} {self.kind}"


def ills_of(shop: Shop, scenario: Scenario, points: Sequence[str], first: float, last: float) -> Iterator[Ill]:
    """In [first, last), seconds after midnight."""
    for fault in scenario.faults:
        if fault.point in points and fault.kind not in HARMLESS and fault.start < last and fault.end > first:
            booth, _, name = fault.point.partition("/")
            terms = terms_of(shop, booth, name)
            start, end = max(first, fault.start), min(last, fault.end)
            if fault.kind == "clock" and fault.amount * SECOND > shop.site.judging.future_tolerance:
                fault = replace(fault, kind="silent")  # it is set aside: nothing is heard of the point
            elif fault.kind == "clock":  # what the wire calls now is another moment
                start, end = max(first, fault.start + fault.amount), min(last, fault.end + fault.amount)
            within = _seen_within(terms, fault, scenario)
            lateness = shop.site.judging.allowed_lateness / SECOND
            yield Ill(name, fault.kind, max(0.0, end - start), None if within is None else within + lateness)
    visit = scenario.visits[0]
    if visit.said_probes is not None:
        for point, zone in visit.said_probes.items():
            if f"{visit.booth}/{point}" in points and visit.body.probes[point] != zone:
                yield Ill(point, "swapped", last - first, None)


def _seen_within(terms: Terms, fault: Fault, scenario: Scenario) -> float | None:
    promised = {name: us / SECOND for name, us in terms.told_within()}
    match fault.kind:
        case "silent":
            return promised[STALE]
        case "stuck":
            long_enough = terms.stuck_us is not None and _in_modes(terms, fault, scenario) * SECOND >= terms.stuck_us
            return promised[STUCK] if long_enough else None
        case "bias" if terms.jump is not None and abs(fault.amount) > terms.jump:
            return promised[JUMPING]
        case "clock" if abs(fault.amount) * SECOND > terms.clock_tolerance_us:
            return promised[CLOCK_OFF]
    return None


def _in_modes(terms: Terms, fault: Fault, scenario: Scenario) -> float:
    """The longest time in a row that a fault lasted while the booth was in a mode in which a stuck value is looked for.

    The demo shop looks for it while spraying: in a bake a value may well stand still. By the script, without its few seconds
    before and after the guns.
    """
    if terms.stuck_modes is None:
        return fault.end - fault.start
    if terms.stuck_modes != ("spray",):
        raise ValueError(f"{terms.point}: teach this bench when the booth is in mode {', '.join(terms.stuck_modes)}")
    coats = [(one.start, one.start + 60 * one.minutes) for one in scenario.visits[0].coats]
    return max(min(fault.end, end) - max(fault.start, start) for start, end in coats)
