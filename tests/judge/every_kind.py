"""One requirement of every kind that goes by readings, and evidence for it out of one trace: for what must hold for all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from booth.judge.evidence import Evidence
from booth.judge.facts import Mix
from booth.judge.finding import Finding
from booth.judge.judge import judge
from booth.judge.series import Series
from booth.physics.pace import Pace
from booth.shop.requirement import (
    ClimateLimit,
    ClimateTerms,
    DwellTerms,
    FlashTerms,
    HeatUpTerms,
    NoTerms,
    OverBakeTerms,
    PeakTerms,
    PotTerms,
    RateTerms,
    Requirement,
)
from booth.times import MINUTE, SECOND
from tests.judge.made_up import START, a_pass, a_requirement, part

PACE = Pace.table([(60, 120), (70, 60)])  # two minutes at 60 degC, one at 70
VOLUME_M3 = 190.0


def on_part(series: Series, start: int, end: int) -> Evidence:
    return Evidence(start, end, parts=(part(series),), uncertainty={"part_temperature": 1.0})


def on_flash(series: Series, start: int, end: int) -> Evidence:
    """The coat before took no time at all; the next one begins at the end."""
    minute = (start - START) / MINUTE
    passes = (a_pass(minute, minute),)
    return Evidence(start, end, before=passes, following=end, parts=(part(series),), uncertainty={"part_temperature": 1.0})


def on_pot(series: Series, start: int, end: int) -> Evidence:
    mix = Mix("M-1", "clear", start, None, "mix-room", "pot-1", {})
    known = {"pot_temperature": series}
    return Evidence(start, end, series=known, mix=mix, mix_named="M-1", uncertainty={"pot_temperature": 0.5})


def on_air(series: Series, start: int, end: int) -> Evidence:
    return Evidence(start, end, series={"air_temperature": series}, uncertainty={"air_temperature": 0.5})


def on_flow(series: Series, start: int, end: int) -> Evidence:
    return Evidence(start, end, series={"air_flow": series}, volume_m3=VOLUME_M3, uncertainty={"air_flow": 0.5})


@dataclass(frozen=True)
class Kind:
    """`warmer`: what a higher trace does to the verdict, 1 for the worse, -1 for the better, None where it may do either."""

    name: str
    requirement: Requirement
    evidence: Callable[[Series, int, int], Evidence]
    warmer: int | None

    def find(self, series: Series, start: int, end: int) -> Finding:
        return judge(self.requirement, self.evidence(series, start, end), end)

    def __str__(self) -> str:
        return self.name


def kinds(guarded: bool = False) -> list[Kind]:
    def of(
        kind: str, terms: object, quantity: str, evidence: Callable, warmer: int | None, name: str = "", **limits: float
    ) -> Kind:
        requirement = a_requirement(kind, terms, quantity, guarded=guarded, **limits)
        return Kind(name or kind, requirement, evidence, warmer)

    hot = ClimateTerms(ClimateLimit("air_temperature", None, 68.0), None, 0, None, None)
    dwells = [
        of("dwell", DwellTerms(PACE, "part", rule, 60.0), "number", on_part, -1, f"dwell, {rule}", low=1.0)
        for rule in ("pause", "restart", "go_on")
    ]
    return [
        of("air_temperature", hot, "temperature", on_air, 1, high=68.0),
        of("flash_minimum", FlashTerms(PACE, "part"), "number", on_flash, -1, low=1.0),
        of("flash_maximum", FlashTerms(PACE, "part"), "number", on_flash, 1, high=1.0),
        of("pot_life", PotTerms(PACE, "pot"), "number", on_pot, 1, high=1.0),
        of("heat_up", HeatUpTerms(65.0, 3 * MINUTE), "duration", on_part, -1, high=180.0),
        of("heating_rate", RateTerms(MINUTE), "heating_rate", on_part, None, high=6.0),
        of("peak", PeakTerms("fibreglass"), "temperature", on_part, 1, high=72.0),
        of("over_bake", OverBakeTerms(60.0, 3 * MINUTE), "duration", on_part, 1, high=180.0),
        of("cool_below", NoTerms(), "temperature", on_part, 1, high=66.0),
        *dwells,
    ]


def purge(guarded: bool = False) -> Kind:
    requirement = a_requirement("purge_volumes", NoTerms(), "volumes", low=4.0, guarded=guarded)
    return Kind("purge_volumes", requirement, on_flow, -1)


def excess_s(finding: Finding) -> float:
    """How long a limit was exceeded."""
    return sum(one.length for one in finding.excursions) / SECOND


def raised(series: Series, by: float | np.ndarray) -> Series:
    return Series(series.times, series.values + by, series.max_age_us)
