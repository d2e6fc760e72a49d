"""What the ventilation log tells beside the air: instruments, grids, alarms, care, reviews, months at a glance."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from booth.alarms.states import Event
from booth.alarms.transition import read_transition
from booth.judge.care import CareBook, Deed, Due
from booth.judge.health.calibration import EVER
from booth.judge.health.faults import FAILED_CALIBRATION, NO_EVIDENCE, STALE
from booth.judge.health.overlay import in_words
from booth.judge.health.spans import Interval
from booth.physics.traverse import grid as mean_of_grid
from booth.reports.record_papers import moved
from booth.reports.ventilation_air import Room, log_points
from booth.reports.ventilation_periods import months_until
from booth.shop.care_shapes import OF_A_PERSON
from booth.store import Store
from booth.times import HOUR, format_time, parse_time
from booth.units import parse

MONTHS = 12


def instruments(room: Room, start: int, end: int, silent: list[dict[str, Any]], zone: ZoneInfo) -> Iterator[dict[str, Any]]:
    """Each point that the log rests on, its faults, and whether it was in calibration from its first reading to its last.

    `silent`: the gaps of the period. A calibration that failed later puts it in doubt back to the last good one.
    """
    ledger = room.ledger
    for name in log_points(room.booth):
        one = room.booth.points[name].instrument
        known = [cal for cal in ledger.calibrations(f"{room.id}/{name}") if cal.time <= end]
        span = _spoke([gap for gap in silent if gap["point"] == f"{room.id}/{name}"], start, end)
        held = [cal for cal in known if cal.valid_until > start]
        shown = held or known[-1:]
        faults = [fault for fault in ledger.unhealthy(f"{room.id}/{name}") if fault.fault != STALE and fault.touches(start, end)]
        passed = in_force([(c.time, c.valid_until) for c in known if c.result == "passed"], *span)
        failed = any(fault.fault == FAILED_CALIBRATION and fault.touches(*span) for fault in faults)
        yield {
            "point": f"{room.id}/{name}",
            "name": one.name,
            "type": one.type,
            "expanded_uncertainty": one.expanded_uncertainty,
            "calibrated": one.calibrated,
            "calibrations": [
                {"time": format_time(cal.time), "result": cal.result, "valid_until": format_time(cal.valid_until)}
                for cal in shown
            ],
            "in_force": passed and not failed,
            "faults": [_fault(fault, zone) for fault in faults],
        }


def _fault(one: Interval, zone: ZoneInfo) -> dict[str, Any]:
    """What is silence stands under the gaps; here is what the instrument said and couldn't be believed."""
    return {
        "fault": one.fault,
        "from": None if one.start == EVER else format_time(one.start),
        "to": None if one.end is None else format_time(one.end),
        "sentence": in_words(one, zone),
    }


def _spoke(silent: list[dict[str, Any]], start: int, end: int) -> tuple[int, int]:
    """From a point's first reading to its last: what lies between the silence before and the one after."""
    spans = [(parse_time(gap["from"]), parse_time(gap["to"])) for gap in silent]
    first = next((past for begin, past in spans if begin == start), start)
    last = next((begin for begin, past in spans if past == end), end)
    return (first, last) if first < last else (start, end)


def in_force(held: list[tuple[int, int]], start: int, end: int) -> bool:
    """Whether a calibration was in force the whole time; one that is renewed before it runs out has no gap."""
    reached = start
    for begin, until in sorted(held):
        if begin <= reached < until:
            reached = until
    return reached >= end


def grid_of(deed: Deed | None) -> dict[str, Any] | None:
    """A measured grid as figures, with what ties the fixed probe to it."""
    if deed is None:
        return None
    body = deed.body
    if body.get("velocities"):
        made = mean_of_grid({name: parse(text, "velocity") for name, text in body["velocities"].items()})
        mean, lowest, points = made.mean, made.lowest, made.points
    else:
        mean, lowest, points = parse(body["mean"], "velocity"), parse(body["lowest"], "velocity"), None
    index = parse(body["index"], "velocity") if body.get("index") else None
    return {
        "measured": format_time(deed.time),
        "mode": body["mode"],
        "state": body["state"],
        "rule": body["rule"],
        "instrument": body["instrument"],
        "report": body.get("report"),
        "points": points,
        "mean": mean,
        "lowest": lowest,
        "index": index,
        "factor": mean / index if index else None,
        "lowest_factor": lowest / index if index else None,
        "area_m2": parse(body["area"], "area") if body.get("area") else None,
    }


def alarms(store: Store, booth: str, start: int, end: int, as_of: int) -> list[dict[str, Any]]:
    """Every alarm of the booth that stood at some time in the period, one row for each time that it appeared."""
    rows: list[dict[str, Any]] = []
    newest: dict[str, dict[str, Any]] = {}
    for entry in store.journal.entries(kinds=["alarm"]):
        move = read_transition(entry.body, entry.private)
        if move.condition.booth != booth or move.at > as_of:
            continue
        if move.alarm_id not in newest or move.cause is Event.APPEAR:
            row = {"alarm": move.alarm_id, "vehicle": move.condition.vehicle, "warned": None, "raised": format_time(move.at)}
            rows.append(row)
            newest[move.alarm_id] = row
        newest[move.alarm_id] |= moved(newest[move.alarm_id], move, entry.private.get("by"))
    stood = (row for row in rows if parse_time(row["raised"]) < end)
    return [row for row in stood if not row["returned"] or parse_time(row["returned"]) > start]


def care(book: CareBook, booth: str, start: int, end: int) -> list[dict[str, Any]]:
    """What was done in the period in this booth, or for the whole site; of people only that it was done, never whose it is."""
    return [
        {
            "time": format_time(deed.time),
            "kind": deed.kind,
            "subject": deed.subject,
            "facts": {key: value for key, value in deed.body.items() if key != "booth"},
            "text": deed.text,
            "by": None if deed.kind in OF_A_PERSON else deed.by,
        }
        for deed in book.deeds
        if start <= deed.time < end and deed.booth in (booth, None) and deed.kind not in ("review", "used", "purchase")
    ]


def reviews(book: CareBook, booth: str, start: int, end: int, as_of: int) -> list[dict[str, Any]]:
    """Reviews of a period that overlaps this one, as they were entered."""
    return [
        {"time": format_time(deed.time), "from": deed.body["from"], "to": deed.body["to"], "text": deed.text, "by": deed.by}
        for deed in book.of(booth, "review", until=as_of)
        if parse_time(deed.body["from"]) < end and parse_time(deed.body["to"]) > start
    ]


def due_rows(found: list[Due], booth: str, as_of: int) -> list[dict[str, Any]]:
    """What is due in this booth or for its people, the most pressing first."""
    own = [one for one in found if one.booth in (booth, None)]
    own.sort(key=lambda one: (not one.is_over(as_of), one.at if one.at is not None else -(2**62)))
    return [
        {
            "kind": one.kind,
            "subject": one.subject,
            "last": None if one.last is None else format_time(one.last),
            "due": None if one.at is None else format_time(one.at),
            "over": one.is_over(as_of),
            "source": one.source,
            "sentence": one.sentence,
        }
        for one in own
    ]


def months(room: Room, store: Store, end: int, zone: ZoneInfo) -> list[dict[str, Any]]:
    """Twelve months from hourly summaries, so that years cost little; over all modes, since an hour may hold several."""
    points = {key: room.measuring(measure) for key, measure in (("velocity", "air_velocity"), ("flow", "air_flow"))}
    points |= {"pressure": room.measuring("booth_pressure"), "filter_drop": room.measuring("filter_pressure_drop")}
    return [
        {"month": name, "hours": (past - begin) / HOUR}
        | {key: _month(room, store, f"{room.id}/{point}", begin, past) for key, point in points.items() if point is not None}
        for name, begin, past in months_until(end, zone, MONTHS)
    ]


def _month(room: Room, store: Store, point: str, start: int, end: int) -> dict[str, Any]:
    """An hour in which the instrument had a fault is left out whole, since its summary can't be parted."""
    found = store.readings.hourly(point, start, end)
    good = np.ones(len(found), bool)
    for one in room.ledger.unhealthy(point):
        if one.fault in NO_EVIDENCE and one.touches(start, end):
            good &= (found.hours + HOUR <= one.start) | (found.hours >= (2**62 if one.end is None else one.end))
    if not good.any():
        return {"hours_recorded": 0, "mean": None, "lowest": None, "highest": None}
    return {
        "hours_recorded": int(good.sum()),
        "mean": float(np.mean(found.mean[good])),
        "lowest": float(found.low[good].min()),
        "highest": float(found.high[good].max()),
    }
