"""The truth about each limit of one van: by how much it was really kept.

Spans are those of the trigger and the controller, not of the buttons. Where a part's temperature decides, it is that of the zones
that carry a probe: of the others no logger can know.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from simulators.plain.oven import oven
from simulators.plain.sheets import number, seconds, stated
from simulators.plain.truth import Moment, PlainShift, Truth, at, clock, passed, time_at


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
    yield from oven(shift, shift.coatings[visit.coats[-1].coating])


def best_of_stretches(kept: np.ndarray, grace: float) -> np.ndarray:
    """Of every stretch of `grace` seconds and one more, its best second.

    `kept` is by how much the limit was kept in each second. A limit that may be missed for no longer than `grace` at a time is
    missed by as much as the best second of such a stretch; the worst stretch decides. Empty where the span is shorter.
    """
    length = int(grace) + 1
    return np.lib.stride_tricks.sliding_window_view(kept, length).max(axis=1) if len(kept) >= length else np.empty(0)


def _between(values: np.ndarray, limit: Mapping[str, Any], start: int) -> tuple[float, Moment]:
    """By how much a value stayed between its limits from second `start` on, and when it no longer did."""
    grace = seconds(limit["grace"]) if "grace" in limit else 0.0
    sides = [values - number(limit["minimum"])] if "minimum" in limit else []
    sides += [number(limit["maximum"]) - values] if "maximum" in limit else []
    best = np.min([best_of_stretches(side, grace) for side in sides], axis=0)

    def moment(by: float) -> float | None:
        missed = np.flatnonzero(best < -by)
        return float(start + missed[0] + int(grace) + 1) if len(missed) else None

    return float(np.min(best)) if len(best) else np.inf, moment


def measures(shift: PlainShift, sheet: Mapping[str, Any], start: int, end: int) -> dict[str, tuple[np.ndarray, str]]:
    """Each climate measure second by second, with its unit."""
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
    for measure, (values, unit) in measures(shift, sheet, start, end).items():
        limit = stated(sheet["climate"].get(measure))
        if limit is not None:
            margin, moment = _between(values, limit, start)
            yield f"{step}/{measure}", Truth(margin, unit, moment)


def _booth(shift: PlainShift, step: str, mode: str, start: int, end: int) -> Iterator[tuple[str, Truth]]:
    """The booth's own limits, while it was in the mode that they are bound to."""
    for limit in shift.booth["limits"]:
        if mode in limit["modes"]:
            values = shift.signals.of(limit["measure"], start, end)
            runs = _runs(shift.signals.mode(start, end) == mode)
            kept = [_between(values[run], limit, start + run.start) for run in runs]
            if kept:
                margin, moment = min(kept, key=lambda one: one[0])
                unit = "m/s" if limit["measure"] == "air_velocity" else "Pa"
                yield f"{step}/booth:{limit['measure']}", Truth(margin, unit, moment)


def _runs(true: np.ndarray) -> Iterator[slice]:
    """The unbroken stretches of a mask."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], true, [False])).astype(int)))
    for first, past in zip(edges[0::2], edges[1::2], strict=True):
        yield slice(int(first), int(past))


def _pot(shift: PlainShift, step: str, sheet: Mapping[str, Any], mix: str, start: int, end: int) -> Iterator[tuple[str, Truth]]:
    mixed = next(one.time for one in shift.scenario.mixes if one.mix == mix)
    pot = stated(sheet.get("pot_life")) or {}
    limit, induction = stated(pot.get("maximum")), stated(pot.get("induction"))
    if limit and "table" in limit:
        used = np.cumsum(1.0 / time_at(limit["table"], shift.signals.pot_c(mixed, end), longest=True))
        yield f"{step}/pot_life", Truth(1.0 - float(used[-1]), "of the pot's life", passed(used, 1.0, mixed))
    elif limit:
        life = seconds(limit["time"])
        yield f"{step}/pot_life", Truth(life - (end - mixed), "s", clock(mixed + life, end))
    if induction:
        kept = start - mixed - seconds(induction["time"])
        yield f"{step}/induction", Truth(kept, "s", at(kept, start))


def _flash(shift: PlainShift, before: str, after: str, sheet: Mapping[str, Any]) -> Iterator[tuple[str, Truth]]:
    (start, end), (following, _) = shift.span(before), shift.span(after)
    step = f"{before.removesuffix('-1')}-flash"
    yield from _booth(shift, step, "flash", end, following)
    flash = sheet["flash"]
    least, most = stated(flash.get("minimum")), stated(flash.get("maximum"))
    counts = np.ones(following - end, bool)
    paused = flash["out_of_limits"]["rule"] == "pause"
    if paused:
        counts = in_limits(shift, sheet, end, following)
    if least:
        if "table" in least:
            pace = 1.0 / time_at(least["table"], shift.coldest(end, following), longest=False)
            kept, unit = float(np.sum(pace[counts])) - 1.0, "of the time needed"
        else:
            kept, unit = float(np.sum(counts)) - seconds(least["time"]), "s"
        yield f"{step}/flash_minimum", Truth(kept, unit, at(kept, following))
    if most:
        drying = np.concatenate((np.ones(end - start, bool), counts)) if paused else np.ones(following - start, bool)
        ran = np.cumsum(drying)
        kept = seconds(most["time"]) - float(ran[-1])
        yield f"{step}/flash_maximum", Truth(kept, "s", passed(ran, seconds(most["time"]), start))


def in_limits(shift: PlainShift, sheet: Mapping[str, Any], start: int, end: int) -> np.ndarray:
    """In which seconds the conditions of the sheet were kept."""
    kept = np.ones(end - start, bool)
    for measure, (values, _) in measures(shift, sheet, start, end).items():
        limit = stated(sheet["climate"].get(measure)) or {}
        if "minimum" in limit:
            kept &= values >= number(limit["minimum"])
        if "maximum" in limit:
            kept &= values <= number(limit["maximum"])
    return kept
