"""A step with everything that its promises follow from, and the parts that promises of every kind share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Protocol

from booth.physics.pace import Pace
from booth.shop.coating import Coating
from booth.shop.limits import MarginRange, Range, TimeLimit
from booth.shop.measures import LIMITED, MODES_OF_STEP
from booth.shop.process import Process, Step
from booth.shop.requirement import ClimateLimit, ClimateTerms, NoTerms, Requirement, Terms
from booth.shop.room import Booth


class Sourced(Protocol):
    """A limit that says where it comes from."""

    source: str


@dataclass(frozen=True)
class Task:
    """One step of a process, with its coating, in a booth (None while it has not begun)."""

    process: Process
    step: Step
    coating: Coating | None
    booth: Booth | None

    def requirement(
        self,
        kind: str,
        source: str,
        terms: Terms | None = None,
        *,
        quantity: str = "number",
        low: float | None = None,
        high: float | None = None,
        name: str | None = None,
    ) -> Requirement:
        """A requirement on this step. `name` tells it from others of its kind."""
        identity = f"{self.step.step}/{name or kind}"
        return Requirement(identity, kind, self.step.step, quantity, source, terms or NoTerms(), low, high)

    def from_sheet(self, kind: str, limit: Sourced, terms: Terms | None = None, **more: Any) -> Requirement:
        """A requirement out of the coating's sheet, whose source "sheet p. 2" is spelt out."""
        return self.requirement(kind, self.coating.source(limit.source), terms, **more)

    @property
    def process_source(self) -> str:
        return f"process {self.process.name}, version {self.process.version}"

    def silent(self, what: str) -> str:
        """The sentence that stands in the record for a limit that the sheet doesn't state."""
        return f"{self.coating.name}: the sheet doesn't state {what}."


def pace_of(limit: TimeLimit) -> Pace:
    if limit.table is None:
        return Pace.fixed(limit.time / 1e6)
    return Pace.table([(temperature, time / 1e6) for temperature, time in limit.table])


def at_least(pace: Pace) -> dict[str, Any]:
    """A fixed time in seconds, a tabulated one as a share of what its temperature asks for."""
    return {"quantity": "duration", "low": pace.times_s[0]} if pace.is_fixed else {"quantity": "number", "low": 1.0}


def at_most(pace: Pace) -> dict[str, Any]:
    return {"quantity": "duration", "high": pace.times_s[0]} if pace.is_fixed else {"quantity": "number", "high": 1.0}


def climate_limit(measure: str, limit: Range) -> ClimateLimit:
    if isinstance(limit, MarginRange):
        return ClimateLimit(measure, limit.minimum, limit.maximum, limit.evaporative_allowance, limit.surface_from_air)
    return ClimateLimit(measure, limit.minimum, limit.maximum)


def climate_terms(measure: str, limit: Range, modes: tuple[str, ...] | None) -> ClimateTerms:
    return ClimateTerms(climate_limit(measure, limit), modes, limit.grace, limit.coverage, limit.largest_gap)


def ends(measure: str, limit: Range) -> dict[str, Any]:
    return {"quantity": LIMITED[measure], "low": limit.minimum, "high": limit.maximum}


def booth_climate(task: Task) -> Iterator[Requirement]:
    """The booth's own limits, in the modes that this kind of step is done in."""
    at_home = MODES_OF_STEP[task.step.kind]
    for limit in task.booth.limits if task.booth else ():
        if at_home[0] in limit.modes:
            modes = tuple(mode for mode in limit.modes if mode in at_home)
            terms, name = climate_terms(limit.measure, limit, modes), f"booth:{limit.measure}"
            yield task.requirement(limit.measure, limit.source, terms, name=name, **ends(limit.measure, limit))


def calibration(task: Task) -> Requirement:
    return task.requirement("calibration", "shop rule: a valid calibration of every instrument that decides")
