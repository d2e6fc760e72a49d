"""What a purge, a bake and a cool-down promise. Each maker yields requirements, and a sentence for what isn't stated."""

from __future__ import annotations

from collections.abc import Iterator

from booth.shop.coating import Bake
from booth.shop.quantities import NOT_STATED
from booth.shop.requirement import (
    DwellTerms,
    FlashTerms,
    HeatUpTerms,
    OverBakeTerms,
    PeakTerms,
    RateTerms,
    Requirement,
    StartTerms,
    WaitTerms,
)
from booth.shop.task import Task, at_least, booth_climate, calibration, pace_of

SILENCE = {
    "start": "when the bake may and must start",
    "heat_up": "how fast the part must be at temperature",
    "dwell": "the dwell of the bake",
    "peak": "the highest part temperature in the bake",
    "heating_rate": "the highest heating rate",
    "over_bake": "how long a part may be baked over all rounds",
    "interruption": "what an interruption does to the dwell",
}
"""Key of [bake] -> what the record says is not stated."""


def purge(task: Task) -> Iterator[Requirement | str]:
    volumes = task.step.volumes
    if volumes is NOT_STATED:
        yield f"{task.process.name}: the process doesn't state the fresh-air volumes of step {task.step.step}."
    else:
        yield task.requirement("purge_volumes", volumes.source, quantity="volumes", low=volumes.minimum)
    yield from booth_climate(task)


def bake(task: Task) -> Iterator[Requirement | str]:
    sheet = task.coating.bake
    yield from (task.silent(what) for key, what in SILENCE.items() if getattr(sheet, key) is NOT_STATED)
    yield from _start_and_heat_up(task, sheet)
    if sheet.dwell:
        rule, below = (sheet.interruption.rule, sheet.interruption.below) if sheet.interruption else ("not_stated", None)
        terms = DwellTerms(pace_of(sheet.dwell), sheet.dwell.driven_by, rule, below, _substrates(task))
        yield task.from_sheet("dwell", sheet.dwell, terms, low=1.0)
    yield from _heat(task, sheet)
    yield from booth_climate(task)
    yield calibration(task)


def _start_and_heat_up(task: Task, sheet: Bake) -> Iterator[Requirement]:
    if sheet.start:
        earliest, latest = sheet.start.earliest, sheet.start.latest
        low, high = (None if end is None else end / 1e6 for end in (earliest, latest))
        terms = StartTerms(earliest, latest)
        yield task.from_sheet("bake_start", sheet.start, terms, quantity="duration", low=low, high=high)
    if sheet.heat_up:
        terms = HeatUpTerms(sheet.heat_up.to, sheet.heat_up.within, _substrates(task))
        high = sheet.heat_up.within / 1e6
        yield task.from_sheet("heat_up", sheet.heat_up, terms, quantity="duration", high=high)


def _heat(task: Task, sheet: Bake) -> Iterator[Requirement | str]:
    """What too much heat would do: peak by substrate, heating rate, over-bake."""
    if sheet.peak:
        highest = sheet.peak.by_substrate()
        for substrate in _substrates(task):
            if substrate not in highest:
                yield task.silent(f"the highest temperature of {substrate} in the bake")
                continue
            limit = {"quantity": "temperature", "high": highest[substrate], "name": f"peak:{substrate}"}
            yield task.from_sheet("peak", sheet.peak, PeakTerms(substrate), **limit)
    if sheet.heating_rate:
        rate = sheet.heating_rate
        terms = RateTerms(rate.over, _substrates(task))
        yield task.from_sheet("heating_rate", rate, terms, quantity="heating_rate", high=rate.maximum)
    if sheet.over_bake:
        terms = OverBakeTerms(sheet.over_bake.at, sheet.over_bake.maximum, _substrates(task))
        high = sheet.over_bake.maximum / 1e6
        yield task.from_sheet("over_bake", sheet.over_bake, terms, quantity="duration", high=high)


def _substrates(task: Task) -> tuple[str, ...]:
    """What the body is made of, in the order of its zones."""
    return tuple(dict.fromkeys(task.process.zones.values()))


def cool(task: Task) -> Iterator[Requirement | str]:
    sheet = task.coating.cool
    if sheet.minimum is NOT_STATED:
        yield task.silent("the cool-down time")
    else:
        terms = FlashTerms(pace_of(sheet.minimum), sheet.minimum.driven_by)
        yield task.from_sheet("cool_minimum", sheet.minimum, terms, **at_least(terms.pace))
    if sheet.below is NOT_STATED:
        yield task.silent("the part temperature at the end of the cool-down")
    else:
        high = sheet.below.temperature
        yield task.from_sheet("cool_below", sheet.below, quantity="temperature", high=high)
    for name, limit in sheet.waits.items():
        terms = WaitTerms(name, pace_of(limit))
        yield task.from_sheet("wait", limit, terms, name=f"wait:{name}", **at_least(terms.pace))
    yield from booth_climate(task)
