"""What a coat, its flash-off and a check promise. Each maker yields requirements, and a sentence for what isn't stated."""

from __future__ import annotations

from collections.abc import Iterator

from booth.shop.limits import Range
from booth.shop.measures import LIMITED, MODES_OF_STEP
from booth.shop.process import GATE_VALUES
from booth.shop.quantities import NOT_STATED
from booth.shop.requirement import CheckTerms, ClimateLimit, FlashTerms, LotTerms, ModeTerms, PotTerms, Requirement
from booth.shop.task import Task, at_least, at_most, booth_climate, calibration, climate_limit, climate_terms, ends, pace_of

MODE_GRACE_US = 60_000_000  # people and controllers need a moment at either end of a step


def coat(task: Task) -> Iterator[Requirement | str]:
    if task.step == task.process.coats()[0]:
        yield from _gates(task)
    modes = ModeTerms(MODES_OF_STEP["coat"], MODE_GRACE_US)
    yield task.requirement("mode", "the booth is in the mode of the step", modes)
    for measure, limit in _stated_climate(task):
        yield task.from_sheet(measure, limit, climate_terms(measure, limit, None), **ends(measure, limit))
    yield from booth_climate(task)
    yield from _pot(task)
    yield task.requirement(
        "lots", "shop rule: every coat names its mix and lots", LotTerms(task.step.coating, task.coating.components)
    )
    yield calibration(task)


def _gates(task: Task) -> Iterator[Requirement]:
    for gate in task.process.gates:
        low, high = gate.bounds()
        terms = CheckTerms(gate.check, gate.after == "repaired", gate.value)
        quantity = GATE_VALUES[gate.value] if gate.value else "number"
        name = f"gate:{gate.check}"
        yield task.requirement("gate", gate.source, terms, quantity=quantity, low=low, high=high, name=name)


def _stated_climate(task: Task) -> Iterator[tuple[str, Range]]:
    for measure in LIMITED:
        limit = getattr(task.coating.climate, measure)
        if limit is not None:
            yield measure, limit


def _pot(task: Task) -> Iterator[Requirement | str]:
    pot = task.coating.pot_life
    if pot is NOT_STATED or pot.maximum is NOT_STATED:
        yield task.silent("the pot life")
    else:
        terms = PotTerms(pace_of(pot.maximum), pot.maximum.driven_by)
        yield task.from_sheet("pot_life", pot.maximum, terms, **at_most(terms.pace))
    if pot is NOT_STATED or pot.induction is NOT_STATED:
        yield task.silent("the induction time before use")
    else:
        terms = PotTerms(pace_of(pot.induction), pot.induction.driven_by)
        yield task.from_sheet("induction", pot.induction, terms, **at_least(terms.pace))


def flash(task: Task) -> Iterator[Requirement | str]:
    sheet = task.coating.flash
    if sheet.minimum is NOT_STATED:
        yield task.silent("the shortest flash-off")
    else:
        rule = "not_stated" if sheet.out_of_limits is NOT_STATED else sheet.out_of_limits.rule
        terms = FlashTerms(pace_of(sheet.minimum), sheet.minimum.driven_by, _conditions(task), rule)
        yield task.from_sheet("flash_minimum", sheet.minimum, terms, **at_least(terms.pace))
        if rule == "not_stated":
            yield task.silent("what conditions out of limits do to the flash-off")
    if sheet.maximum is NOT_STATED:
        yield task.silent("the longest flash-off")
    else:
        terms = FlashTerms(pace_of(sheet.maximum), sheet.maximum.driven_by)
        yield task.from_sheet("flash_maximum", sheet.maximum, terms, **at_most(terms.pace))
    if sheet.appearance is not None:
        yield task.from_sheet("appearance", sheet.appearance, CheckTerms(sheet.appearance.check))
    yield from booth_climate(task)


def _conditions(task: Task) -> tuple[ClimateLimit, ...]:
    return tuple(climate_limit(measure, limit) for measure, limit in _stated_climate(task))


def check(task: Task) -> Iterator[Requirement]:
    name = f"check:{task.step.check}"
    yield task.requirement("check", task.process_source, CheckTerms(task.step.check), name=name)
