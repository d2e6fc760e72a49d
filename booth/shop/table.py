"""Every limit of a shop as a row to check by eye: in the metric system and in US customary units, with its source."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from booth.shop.coating import Bake, Coating, Cool, Flash, PotLife
from booth.shop.limits import Range, Rule, TimeLimit
from booth.shop.measures import LIMITED
from booth.shop.process import GATE_VALUES, Process
from booth.shop.quantities import NOT_STATED, NotStated
from booth.shop.room import Booth
from booth.shop.shop import Shop
from booth.times import DAY
from booth.units import show, show_us

Show = Callable[[float, str], str]


@dataclass(frozen=True)
class LimitRow:
    """One limit. A limit that its sheet doesn't state reads "not stated" and has no source."""

    file: str
    key: str
    metric: str
    us: str
    source: str


def limit_rows(shop: Shop) -> tuple[LimitRow, ...]:
    """The limits of every booth, coating and process, file by file in the order in which a file is best read."""
    rows: list[LimitRow] = []
    for name, booth in sorted(shop.booths.items()):
        rows += (_row(f"booths/{name}.toml", *limit) for limit in _booth(booth))
    for name, coating in sorted(shop.coatings.items()):
        rows += (_row(f"coatings/{name}.toml", *limit, coating) for limit in _coating(coating))
    for name, process in sorted(shop.processes.items()):
        rows += (_row(f"processes/{name}.toml", *limit) for limit in _process(process))
    return tuple(rows)


Words = Callable[[Show], str]
"""A limit's words, given how its quantities are shown."""

Limit = tuple[str, Words | NotStated, str]
"""Key, words, source as the file states it."""


def _row(file: str, key: str, words: Words | NotStated, source: str, coating: Coating | None = None) -> LimitRow:
    if words is NOT_STATED:
        return LimitRow(file, key, "not stated", "not stated", "")
    return LimitRow(file, key, words(show), words(show_us), coating.source(source) if coating else source)


def between(low: float | None, high: float | None, kind: str) -> Words:
    """`at least 3.0 K`, `at most 75 %`, `20.0 °C to 32.0 °C`."""
    if low is None:
        return lambda shown: f"at most {shown(high, kind)}"
    if high is None:
        return lambda shown: f"at least {shown(low, kind)}"
    return lambda shown: f"{shown(low, kind)} to {shown(high, kind)}"


def _seconds(us: int | None) -> float | None:
    return None if us is None else us / 1e6


def _booth(booth: Booth) -> Iterator[Limit]:
    for limit in booth.limits:
        yield f"{limit.measure} in {', '.join(limit.modes)}", _range(limit, LIMITED[limit.measure]), limit.source
    if booth.hazard is not None:
        least = between(booth.hazard.minimum_velocity, None, "velocity")
        yield "hazard.minimum_velocity", least, "a hazard of the booth, whatever any sheet says"
    if booth.ventilation is not None:
        for name, one in booth.ventilation.filters.items():
            if one.change_out is not None:
                yield f"ventilation.filters.{name}.change_out", between(None, one.change_out, "pressure"), one.source
        for kind, care in booth.ventilation.care.items():
            yield f"ventilation.care.{kind}", _every(care.every), care.source


def _every(us: int) -> Words:
    days = us / DAY
    return lambda _shown: f"every {days:.0f} days"


def _range(limit: Range, kind: str) -> Words:
    allowance = getattr(limit, "evaporative_allowance", 0.0)
    ends = between(limit.minimum, limit.maximum, kind)
    if not allowance:
        return ends
    return lambda shown: f"{ends(shown)} after {shown(allowance, 'temperature_difference')} for evaporation"


def _coating(coating: Coating) -> Iterator[Limit]:
    for measure in LIMITED:
        limit = getattr(coating.climate, measure)
        if limit is not None:
            yield f"climate.{measure}", _range(limit, LIMITED[measure]), limit.source
    if coating.flash is not None:
        yield from _flash(coating.flash)
    yield from _pot_life(coating.pot_life)
    if coating.bake is not None:
        yield from _bake(coating.bake)
    if coating.cool is not None:
        yield from _cool(coating.cool)


def _flash(flash: Flash) -> Iterator[Limit]:
    yield _time("flash.minimum", "at least", flash.minimum)
    yield _time("flash.maximum", "at most", flash.maximum)
    yield _rule("flash.out_of_limits", flash.out_of_limits)
    if flash.appearance is not None:
        words = f"check {flash.appearance.check} passed"
        yield "flash.appearance", lambda shown: words, flash.appearance.source


def _pot_life(pot: PotLife | NotStated) -> Iterator[Limit]:
    if pot is NOT_STATED:
        yield "pot_life", NOT_STATED, ""
        return
    yield _time("pot_life.maximum", "at most", pot.maximum)
    yield _time("pot_life.induction", "at least", pot.induction)


def _time(key: str, side: str, limit: TimeLimit | NotStated) -> Limit:
    if limit is NOT_STATED:
        return key, NOT_STATED, ""
    if limit.table is None:
        return key, lambda shown: f"{side} {shown(_seconds(limit.time), 'duration')}", limit.source

    def words(shown: Show) -> str:
        rows = (
            f"{shown(_seconds(time), 'duration')} at {shown(temperature, 'temperature')}" for temperature, time in limit.table
        )
        return f"{side} {', '.join(rows)} ({limit.driven_by})"

    return key, words, limit.source


def _rule(key: str, rule: Rule | NotStated) -> Limit:
    if rule is NOT_STATED:
        return key, NOT_STATED, ""
    return key, lambda shown: rule.rule.replace("_", " "), rule.source


def _bake(bake: Bake) -> Iterator[Limit]:
    for name in ("start", "heat_up", "dwell", "peak", "heating_rate", "over_bake", "interruption"):
        if getattr(bake, name) is NOT_STATED:
            yield f"bake.{name}", NOT_STATED, ""
    if bake.start:
        ends = between(_seconds(bake.start.earliest), _seconds(bake.start.latest), "duration")
        yield "bake.start", lambda shown: f"{ends(shown)} after the last coat", bake.start.source
    if bake.heat_up:
        yield "bake.heat_up", _within("{at} within {time}", bake.heat_up.to, bake.heat_up.within), bake.heat_up.source
    if bake.dwell:
        yield _time("bake.dwell", "at least", bake.dwell)
    for substrate, highest in bake.peak.by_substrate().items() if bake.peak else ():
        yield f"bake.peak.{substrate}", between(None, highest, "temperature"), bake.peak.source
    if bake.heating_rate:
        yield "bake.heating_rate", between(None, bake.heating_rate.maximum, "heating_rate"), bake.heating_rate.source
    if bake.over_bake:
        words = _within("at most {time} at or above {at}", bake.over_bake.at, bake.over_bake.maximum)
        yield "bake.over_bake", words, bake.over_bake.source
    if bake.interruption:
        below, rule = bake.interruption.below, bake.interruption.rule.replace("_", " ")
        yield "bake.interruption", lambda shown: f"below {shown(below, 'temperature')}: {rule}", bake.interruption.source


def _within(pattern: str, temperature_c: float, time_us: int) -> Words:
    return lambda shown: pattern.format(at=shown(temperature_c, "temperature"), time=shown(_seconds(time_us), "duration"))


def _cool(cool: Cool) -> Iterator[Limit]:
    yield _time("cool.minimum", "at least", cool.minimum)
    if cool.below is NOT_STATED:
        yield "cool.below", NOT_STATED, ""
    else:
        yield "cool.below", between(None, cool.below.temperature, "temperature"), cool.below.source
    for check, limit in cool.waits.items():
        yield _time(f"cool.waits.{check}", "at least", limit)


def _process(process: Process) -> Iterator[Limit]:
    for gate in process.gates:
        low, high = gate.bounds()
        limited = between(low, high, GATE_VALUES[gate.value]) if gate.value else None
        yield f"gates.{gate.check}", limited or (lambda shown: "passed"), gate.source
    for step in process.steps:
        if step.volumes is NOT_STATED:
            yield f"steps.{step.step}.volumes", NOT_STATED, ""
        elif step.volumes is not None:
            yield f"steps.{step.step}.volumes", between(step.volumes.minimum, None, "volumes"), step.volumes.source
