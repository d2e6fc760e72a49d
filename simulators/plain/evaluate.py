"""The truth about each limit of one van: by how much it was really kept.

Spans are those of the trigger and the controller, not of the buttons. Where a part's temperature decides, it is that of the zones
that carry a probe: of the others no logger can know.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from simulators.plain.sheets import number, seconds, sheets, stated
from simulators.plain.signals import Signals
from simulators.scenario import Scenario, Visit
from simulators.spraying import Stroke, strokes

KELVIN = 273.15


@dataclass(frozen=True)
class Truth:
    """By how much a limit was kept, in `unit`; negative: missed."""

    margin: float
    unit: str

    @property
    def met(self) -> bool:
        return self.margin >= 0


class PlainShift:
    """One van's shift, its sheets, and what was truly so."""

    def __init__(self, seed: int, scenario: Scenario, signals: Signals, files: Mapping[str, str]) -> None:
        (self.visit,) = scenario.visits
        self.scenario, self.signals = scenario, signals
        self.coatings, self.booth = sheets(files, "coatings"), sheets(files, "booths")[self.visit.booth]
        self.process = sheets(files, "processes")[self.visit.body.process]
        self.probed = sorted(set(self.visit.body.probes.values()))
        self.strokes: dict[str, list[Stroke]] = {coat.step: strokes(seed, self.visit, coat) for coat in self.visit.coats}

    def span(self, step: str) -> tuple[int, int]:
        """From the first trigger of a coat to the last."""
        return min(one.start for one in self.strokes[step]), max(one.end for one in self.strokes[step])

    def coldest(self, start: int, end: int) -> np.ndarray:
        return np.min([self.signals.skin(zone, start, end) for zone in self.probed], axis=0)

    def hottest(self, start: int, end: int, substrate: str) -> np.ndarray:
        kinds = {zone.name: zone.substrate for zone in self.visit.body.zones}
        return np.max([self.signals.skin(zone, start, end) for zone in self.probed if kinds[zone] == substrate], axis=0)


def truths(shift: PlainShift) -> dict[str, Truth]:
    """By the requirement's id, as findings name it. What only papers decide isn't in it."""
    return dict(_all(shift))


def _all(shift: PlainShift) -> Iterator[tuple[str, Truth]]:
    visit = shift.visit
    for coat in visit.coats:
        sheet, (start, end) = shift.coatings[coat.coating], shift.span(coat.step)
        yield from _climate(shift, coat.step, sheet, start, end)
        yield from _booth(shift, coat.step, "spray", start, end)
        yield from _pot(shift, coat.step, sheet, coat.mix, start, end)
    for before, after in zip(visit.coats, visit.coats[1:], strict=False):
        yield from _flash(shift, before.step, after.step, shift.coatings[before.coating])
    yield from _oven(shift, visit, shift.coatings[visit.coats[-1].coating])


def kept_for(shortfall: np.ndarray, grace: float) -> float:
    """By how much a limit was kept, where it may be missed for no longer than `grace` seconds at a time.

    `shortfall` is value minus limit for each second, positive where kept. A stretch of `grace` seconds and one more is missed by
    as much as its best second; the worst such stretch decides.
    """
    length = int(grace) + 1
    if len(shortfall) < length:
        return float(np.max(shortfall)) if len(shortfall) else np.inf
    stretches = np.lib.stride_tricks.sliding_window_view(shortfall, length)
    return float(np.min(np.max(stretches, axis=1)))


def _between(values: np.ndarray, limit: Mapping[str, Any]) -> float:
    grace = seconds(limit["grace"]) if "grace" in limit else 0.0
    margins = []
    if "minimum" in limit:
        margins.append(kept_for(values - number(limit["minimum"]), grace))
    if "maximum" in limit:
        margins.append(kept_for(number(limit["maximum"]) - values, grace))
    return min(margins)


def _measures(shift: PlainShift, sheet: Mapping[str, Any], start: int, end: int) -> dict[str, tuple[np.ndarray, str]]:
    signals = shift.signals
    coldest = shift.coldest(start, end)
    allowance = number(sheet["climate"].get("dew_point_margin", {}).get("evaporative_allowance", "0 K"))
    return {
        "air_temperature": (signals.of("air_temperature", start, end), "degC"),
        "relative_humidity": (signals.of("relative_humidity", start, end), "percent"),
        "dew_point_margin": (coldest - allowance - signals.of("dew_point", start, end), "K"),
        "part_temperature": (coldest, "degC"),
    }


def _climate(shift: PlainShift, step: str, sheet: Mapping[str, Any], start: int, end: int) -> Iterator[tuple[str, Truth]]:
    for measure, (values, unit) in _measures(shift, sheet, start, end).items():
        limit = stated(sheet["climate"].get(measure))
        if limit is not None:
            yield f"{step}/{measure}", Truth(_between(values, limit), unit)


def _booth(shift: PlainShift, step: str, mode: str, start: int, end: int) -> Iterator[tuple[str, Truth]]:
    """The booth's own limits, while it was in the mode that they are bound to."""
    for limit in shift.booth["limits"]:
        if mode in limit["modes"]:
            values = shift.signals.of(limit["measure"], start, end)
            kept = [_between(values[run], limit) for run in _runs(shift.signals.mode(start, end) == mode)]
            if kept:
                yield f"{step}/booth:{limit['measure']}", Truth(min(kept), "m/s" if limit["measure"] == "air_velocity" else "Pa")


def _runs(true: np.ndarray) -> Iterator[slice]:
    """The unbroken stretches of a mask."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], true, [False])).astype(int)))
    for first, past in zip(edges[0::2], edges[1::2], strict=True):
        yield slice(int(first), int(past))


def time_at(table: list[list[str]], temperature_c: np.ndarray, longest: bool) -> np.ndarray:
    """Seconds that the sheet gives at a temperature: ln(time) in a straight line over 1/T between its points.

    Above the last point the last one's. Below the first: for a minimum nothing is earned (infinity), for a maximum (`longest`)
    the first one's; a maximum above the last point goes on along the last line.
    """
    points = [(1.0 / (number(at) + KELVIN), np.log(seconds(time))) for at, time in table]
    inverse = 1.0 / (temperature_c + KELVIN)
    xs, ys = [x for x, _ in reversed(points)], [y for _, y in reversed(points)]
    logs = np.interp(inverse, xs, ys)
    if longest:
        slope = (ys[1] - ys[0]) / (xs[1] - xs[0])
        return np.exp(np.where(inverse < xs[0], ys[0] + slope * (inverse - xs[0]), logs))
    return np.where(inverse > xs[-1], np.inf, np.exp(logs))


def _pot(shift: PlainShift, step: str, sheet: Mapping[str, Any], mix: str, start: int, end: int) -> Iterator[tuple[str, Truth]]:
    mixed = next(one.time for one in shift.scenario.mixes if one.mix == mix)
    pot = stated(sheet.get("pot_life")) or {}
    limit, induction = stated(pot.get("maximum")), stated(pot.get("induction"))
    if limit and "table" in limit:
        used = float(np.sum(1.0 / time_at(limit["table"], shift.signals.pot_c(mixed, end), longest=True)))
        yield f"{step}/pot_life", Truth(1.0 - used, "of the pot's life")
    elif limit:
        yield f"{step}/pot_life", Truth(seconds(limit["time"]) - (end - mixed), "s")
    if induction:
        yield f"{step}/induction", Truth(start - mixed - seconds(induction["time"]), "s")


def _flash(shift: PlainShift, before: str, after: str, sheet: Mapping[str, Any]) -> Iterator[tuple[str, Truth]]:
    (start, end), (following, _) = shift.span(before), shift.span(after)
    step = f"{before.removesuffix('-1')}-flash"
    yield from _booth(shift, step, "flash", end, following)
    flash = sheet["flash"]
    least, most = stated(flash.get("minimum")), stated(flash.get("maximum"))
    counts = np.ones(following - end, bool)
    if flash["out_of_limits"]["rule"] == "pause":
        counts = _in_limits(shift, sheet, end, following)
    if least and "table" in least:
        pace = 1.0 / time_at(least["table"], shift.coldest(end, following), longest=False)
        yield f"{step}/flash_minimum", Truth(float(np.sum(pace[counts])) - 1.0, "of the time needed")
    elif least:
        yield f"{step}/flash_minimum", Truth(float(np.sum(counts)) - seconds(least["time"]), "s")
    if most:
        while_drying = int(np.sum(counts)) + (end - start) if flash["out_of_limits"]["rule"] == "pause" else following - start
        yield f"{step}/flash_maximum", Truth(seconds(most["time"]) - while_drying, "s")


def _in_limits(shift: PlainShift, sheet: Mapping[str, Any], start: int, end: int) -> np.ndarray:
    kept = np.ones(end - start, bool)
    for measure, (values, _) in _measures(shift, sheet, start, end).items():
        limit = stated(sheet["climate"].get(measure)) or {}
        if "minimum" in limit:
            kept &= values >= number(limit["minimum"])
        if "maximum" in limit:
            kept &= values <= number(limit["maximum"])
    return kept


def _oven(shift: PlainShift, visit: Visit, sheet: Mapping[str, Any]) -> Iterator[tuple[str, Truth]]:
    last_coat = shift.span(visit.coats[-1].step)[1]
    bake = sheet["bake"]
    start, end = visit.bake, visit.cool
    flow = shift.signals.of("fresh_flow", visit.purge, visit.bake)
    needed = next(one["volumes"]["minimum"] for one in shift.process["steps"] if one["kind"] == "purge")
    yield "purge/purge_volumes", Truth(float(np.sum(flow)) / number(shift.booth["volume"]) - float(needed), "volumes")
    waited = start - last_coat
    window = min(waited - seconds(bake["start"]["earliest"]), seconds(bake["start"]["latest"]) - waited)
    yield "bake/bake_start", Truth(window, "s")
    coldest = shift.coldest(start, end)
    yield "bake/heat_up", Truth(_heat_up(coldest, bake["heat_up"]), "s")
    pace = 1.0 / time_at(bake["dwell"]["table"], coldest, longest=False)
    paused_below = number(bake["interruption"]["below"])
    yield "bake/dwell", Truth(float(np.sum(pace[coldest >= paused_below])) - 1.0, "of the time needed")
    for substrate in sorted({zone.substrate for zone in visit.body.zones}):
        highest = float(np.max(shift.hottest(start, end, substrate)))
        yield f"bake/peak:{substrate}", Truth(number(bake["peak"][substrate]) - highest, "degC")
    yield "bake/heating_rate", Truth(_heating_rate(shift, start, end, bake["heating_rate"]), "K/min")
    at_heat = _heated_for(shift, start, end, number(bake["over_bake"]["at"]))
    yield "bake/over_bake", Truth(seconds(bake["over_bake"]["maximum"]) - at_heat, "s")
    cool = sheet["cool"]
    yield "cool/cool_minimum", Truth(visit.cooled - visit.cool - seconds(cool["minimum"]["time"]), "s")
    left = max(float(shift.signals.skin(zone, visit.cooled - 1, visit.cooled)[0]) for zone in shift.probed)
    yield "cool/cool_below", Truth(number(cool["below"]["temperature"]) - left, "degC")


def _heat_up(coldest: np.ndarray, limit: Mapping[str, Any]) -> float:
    reached = np.flatnonzero(coldest >= number(limit["to"]))
    took = float(reached[0]) if len(reached) else float(len(coldest))
    return seconds(limit["within"]) - took if len(reached) else min(seconds(limit["within"]) - took, -1.0)


def _heating_rate(shift: PlainShift, start: int, end: int, limit: Mapping[str, Any]) -> float:
    """Rise over the sheet's own length of time, the fastest anywhere."""
    over = int(seconds(limit["over"]))
    rise = [shift.signals.skin(zone, start, end) for zone in shift.probed]
    fastest = max(float(np.max(skin[over:] - skin[:-over])) / (over / 60.0) for skin in rise)
    return float(limit["maximum"].split()[0]) - fastest


def _heated_for(shift: PlainShift, start: int, end: int, temperature_c: float) -> float:
    """Seconds at or above a temperature, of the probed zone that had most of it."""
    return max(float(np.sum(shift.signals.skin(zone, start, end) >= temperature_c)) for zone in shift.probed)
