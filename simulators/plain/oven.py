"""The truth about purge, bake and cool of one van: by how much their limits were really kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from simulators.plain.sheets import number, seconds
from simulators.plain.truth import PlainShift, Truth, at, passed, time_at


def oven(shift: PlainShift, sheet: Mapping[str, Any]) -> Iterator[tuple[str, Truth]]:
    """By the sheet of the last coat."""
    visit, bake = shift.visit, sheet["bake"]
    start, end = visit.bake, visit.cool
    flow = shift.signals.of("fresh_flow", visit.purge, start)
    needed = next(one["volumes"]["minimum"] for one in shift.process["steps"] if one["kind"] == "purge")
    volumes = float(np.sum(flow)) / number(shift.booth["volume"]) - float(needed)
    yield "purge/purge_volumes", Truth(volumes, "volumes", at(volumes, start))
    yield "bake/bake_start", _start(bake["start"], shift.span(visit.coats[-1].step)[1], start)
    coldest = shift.coldest(start, end)
    yield "bake/heat_up", _heat_up(coldest, bake["heat_up"], start)
    pace = 1.0 / time_at(bake["dwell"]["table"], coldest, longest=False)
    paused_below = number(bake["interruption"]["below"])
    dwell = float(np.sum(pace[coldest >= paused_below])) - 1.0
    yield "bake/dwell", Truth(dwell, "of the time needed", at(dwell, end))
    for substrate in sorted({zone.substrate for zone in visit.body.zones}):
        hottest, limit = shift.hottest(start, end, substrate), number(bake["peak"][substrate])
        yield f"bake/peak:{substrate}", Truth(limit - float(np.max(hottest)), "degC", passed(hottest, limit, start))
    yield "bake/heating_rate", _heating_rate(shift, start, end, bake["heating_rate"])
    yield "bake/over_bake", _over_bake(shift, start, end, bake["over_bake"])
    yield from _cool(shift, sheet["cool"])


def _start(limit: Mapping[str, Any], last_coat: int, start: int) -> Truth:
    latest = last_coat + seconds(limit["latest"])
    kept = min(start - last_coat - seconds(limit["earliest"]), latest - start)
    return Truth(kept, "s", lambda by: min(latest + by, start) if kept < -by else None)


def _heat_up(coldest: np.ndarray, limit: Mapping[str, Any], start: int) -> Truth:
    reached = np.flatnonzero(coldest >= number(limit["to"]))
    within = seconds(limit["within"])
    kept = within - float(reached[0]) if len(reached) else min(within - float(len(coldest)), -1.0)
    return Truth(kept, "s", lambda by: start + within + by if kept < -by else None)


def _heating_rate(shift: PlainShift, start: int, end: int, limit: Mapping[str, Any]) -> Truth:
    """Rise over the sheet's own length of time, the fastest anywhere."""
    over = int(seconds(limit["over"]))
    skins = [shift.signals.skin(zone, start, end) for zone in shift.probed]
    fastest = np.max([(skin[over:] - skin[:-over]) / (over / 60.0) for skin in skins], axis=0)
    allowed = float(limit["maximum"].split()[0])
    return Truth(allowed - float(np.max(fastest)), "K/min", passed(fastest, allowed, start + over))


def _over_bake(shift: PlainShift, start: int, end: int, limit: Mapping[str, Any]) -> Truth:
    """Seconds at or above a temperature, of the probed zone that had most of it."""
    hot = [np.cumsum(shift.signals.skin(zone, start, end) >= number(limit["at"])) for zone in shift.probed]
    most = max(hot, key=lambda one: one[-1])
    allowed = seconds(limit["maximum"])
    return Truth(allowed - float(most[-1]), "s", passed(most, allowed, start))


def _cool(shift: PlainShift, sheet: Mapping[str, Any]) -> Iterator[tuple[str, Truth]]:
    visit = shift.visit
    kept = visit.cooled - visit.cool - seconds(sheet["minimum"]["time"])
    yield "cool/cool_minimum", Truth(kept, "s", at(kept, visit.cooled))
    left = max(float(shift.signals.skin(zone, visit.cooled - 1, visit.cooled)[0]) for zone in shift.probed)
    below = number(sheet["below"]["temperature"]) - left
    yield "cool/cool_below", Truth(below, "degC", at(below, visit.cooled))
