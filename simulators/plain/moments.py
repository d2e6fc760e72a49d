"""When what somebody waits for was truly so: the moments that a forecast is held against.

In seconds after midnight, by the requirement's id; `…/latest` is the latest moment of one that has an earliest one too.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from simulators.plain.evaluate import in_limits, measures
from simulators.plain.sheets import number, seconds, stated
from simulators.plain.truth import PlainShift, time_at


class Came(NamedTuple):
    """`moment`: None where it never came up to `seen_to`, the end of what can be known of it."""

    moment: float | None
    seen_to: float
    by_temperature: bool = False


def done_moments(shift: PlainShift) -> dict[str, Came]:
    """When each clock was done, or a part cold enough."""
    return dict(_all(shift))


def crossing(shift: PlainShift, step: str, measure: str, limit: float, falling: bool, since: float) -> float | None:
    """When a measure of a coat first was beyond a limit, from a moment on until the coat's last trigger; None: never."""
    coat = next(one for one in shift.visit.coats if one.step == step)
    start = int(since)
    values, _ = measures(shift, shift.coatings[coat.coating], start, max(start, shift.span(step)[1]))[measure]
    beyond = np.flatnonzero(values < limit if falling else values > limit)
    return float(start + beyond[0]) if len(beyond) else None


def _all(shift: PlainShift) -> Iterator[tuple[str, Came]]:
    visit = shift.visit
    for coat in visit.coats:
        yield from _pot(shift, coat.step, coat.coating, coat.mix)
    for before, after in zip(visit.coats, visit.coats[1:], strict=False):
        yield from _flash(shift, before.step, after.step, before.coating)
    sheet = shift.coatings[visit.coats[-1].coating]
    last = shift.span(visit.coats[-1].step)[1]
    for name, which in (("bake/bake_start", "earliest"), ("bake/bake_start/latest", "latest")):
        yield name, Came(last + seconds(sheet["bake"]["start"][which]), np.inf)
    coldest = shift.coldest(visit.bake, visit.cool)
    pace = 1.0 / time_at(sheet["bake"]["dwell"]["table"], coldest, longest=False)
    pace[coldest < number(sheet["bake"]["interruption"]["below"])] = 0.0
    yield "bake/dwell", _first(np.cumsum(pace) >= 1.0, visit.bake, visit.cool, True)
    yield "cool/cool_minimum", Came(visit.cool + seconds(sheet["cool"]["minimum"]["time"]), np.inf)
    hottest = np.max([shift.signals.skin(zone, visit.cool, visit.cooled) for zone in shift.probed], axis=0)
    yield "cool/cool_below", _first(hottest <= number(sheet["cool"]["below"]["temperature"]), visit.cool, visit.cooled, True)


def _pot(shift: PlainShift, step: str, coating: str, mix: str) -> Iterator[tuple[str, Came]]:
    mixed = next(one.time for one in shift.scenario.mixes if one.mix == mix)
    limit = stated((stated(shift.coatings[coating].get("pot_life")) or {}).get("maximum"))
    if limit and "table" in limit:
        used = np.cumsum(1.0 / time_at(limit["table"], shift.signals.pot_c(mixed, shift.visit.cooled), longest=True))
        yield f"{step}/pot_life", _first(used > 1.0, mixed, shift.visit.cooled, True)
    elif limit:
        yield f"{step}/pot_life", Came(mixed + seconds(limit["time"]), np.inf)


def _flash(shift: PlainShift, before: str, after: str, coating: str) -> Iterator[tuple[str, Came]]:
    (start, end), (following, _) = shift.span(before), shift.span(after)
    sheet, step = shift.coatings[coating], f"{before.removesuffix('-1')}-flash"
    flash, counts = sheet["flash"], np.ones(following - end, bool)
    if flash["out_of_limits"]["rule"] == "pause":
        counts = in_limits(shift, sheet, end, following)
    least, most = stated(flash.get("minimum")), stated(flash.get("maximum"))
    if least and "table" in least:
        pace = 1.0 / time_at(least["table"], shift.coldest(end, following), longest=False)
        yield f"{step}/flash_minimum", _first(np.cumsum(pace * counts) >= 1.0, end, following, True)
    elif least:
        yield f"{step}/flash_minimum", _first(np.cumsum(counts) >= seconds(least["time"]), end, following)
    if most:
        ran = np.cumsum(np.concatenate((np.ones(end - start, bool), counts)))
        yield f"{step}/flash_maximum", _first(ran > seconds(most["time"]), start, following)


def _first(true: np.ndarray, start: float, end: float, by_temperature: bool = False) -> Came:
    hits = np.flatnonzero(true)
    return Came(float(start + hits[0] + 1) if len(hits) else None, end, by_temperature)
