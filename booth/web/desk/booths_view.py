"""Every booth and every open van at a moment, as plain data for the supervisor's page and the hand-over sheet."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import takewhile
from typing import Any

from booth.judge.ledger import Ledger
from booth.overview import booth_state, newest_of, open_job
from booth.reports.judged import NoSuchVehicle
from booth.shop.point import Point
from booth.shop.problems import ConfigError
from booth.shop.room import Booth
from booth.shop.shop import Shop
from booth.store import Reading, Store
from booth.times import HOUR, SECOND, duration_text, give_or_take, parse_time
from booth.units import show, show_us
from booth.web.desk.memory import Memory

KEY_MEASURES = ("air_temperature", "relative_humidity", "air_velocity", "booth_pressure")
RECENT = 12 * HOUR
ENDS = {"earliest": "not before", "latest": "not after"}


def booths_view(shop: Shop, store: Store, known: Memory, as_of: int, units: str) -> dict[str, Any]:
    """`booths` in the order of the configuration (those that spray or bake first), `elsewhere` the open vans in none of them,
    `recent` alarms acknowledged lately.
    """
    with known.following(store):
        ledger, standing, recent = known.lent(store), known.standing(), _recent(known, as_of)
        open_vans = [row.vehicle for row in known.index.rows() if row.closed is None]
    newest = newest_of(shop, store, as_of)
    states = {id: booth_state(id, booth, ledger, newest, as_of) for id, booth in shop.booths.items()}
    vans = [
        _van(shop, store, ledger, van, states, as_of) | {"alarms": [one for one in standing if one["vehicle"] == van]}
        for van in open_vans
    ]
    booths = []
    for id, booth in shop.booths.items():
        here = [van for van in vans if van["booth"] == id]
        own = [one for one in standing if one["booth"] == id and one["vehicle"] not in open_vans]
        gone = [van for van in states[id]["vans"] if van not in open_vans]
        told = {"id": id, "name": booth.name, "kind": booth.kind, "vans": here, "alarms": own, "waiting": gone}
        told["mode"] = mode_word(booth, newest.get(f"{id}/{booth.mode_point}"), as_of)
        told["heard"] = states[id]["last_heard"]
        told["values"] = list(_values(id, booth, newest, as_of, units))
        told["silent"] = not any(value["usable"] for value in states[id]["points"].values())
        booths.append(told)
    return {
        "at": as_of,
        "booths": sorted(booths, key=lambda one: one["mode"] is None),
        "elsewhere": [van for van in vans if van["booth"] not in shop.booths],
        "recent": recent,
    }


def mode_word(booth: Booth, reading: Reading | None, as_of: int) -> str | None:
    """What the booth is doing; `not known` when it hasn't said so lately, None for a room that has no mode."""
    if booth.mode_point is None:
        return None
    if reading is None or as_of - reading.time > booth.points[booth.mode_point].max_age or reading.quality != "good":
        return "not known"
    return reading.sent


def _values(id: str, booth: Booth, newest: dict[str, Reading | None], as_of: int, units: str) -> Iterator[dict[str, str | bool]]:
    for measure in KEY_MEASURES:
        for name in booth.measuring(measure)[:1]:
            text, usable = value_text(booth.points[name], newest[f"{id}/{name}"], as_of, units)
            yield {"name": name.replace("-", " "), "text": text, "usable": usable}


def value_text(point: Point, reading: Reading | None, as_of: int, units: str) -> tuple[str, bool]:
    """The newest value for people, and whether it may be used."""
    if reading is None:
        return "never heard", False
    if reading.quality != "good":
        return f"not usable: {reading.quality}", False
    if as_of - reading.time > point.max_age:
        return f"not usable: silent for {duration_text(as_of - reading.time)}", False
    if point.measure == "mode":
        return reading.sent, True
    return (show_us if units == "US" else show)(reading.value, point.kind), True


WAITED_FOR = {
    "flash_minimum": "next coat",
    "flash_maximum": "next coat",
    "bake_start": "bake",
    "pot_life": "pot used",
    "heat_up": "part at heat",
    "dwell": "end of the bake",
    "cool_minimum": "end of cooling",
    "cool_below": "van cool",
}
"""Kinds of requirement with a window -> what may and must be done in it."""


def _van(shop: Shop, store: Store, ledger: Ledger, vehicle: str, states: dict[str, Any], as_of: int) -> dict[str, Any]:
    """An open job with its windows in words that count by the logger's clock.

    One that can't be judged, its configuration being lost, says so and keeps no other van from being shown.
    """
    job = ledger.job(vehicle)
    try:
        told = open_job(shop, store, ledger, job, states, as_of)
    except (NoSuchVehicle, ConfigError) as problem:
        place = job.places[-1].booth if job.places and job.places[-1].end is None else None
        about = {"vehicle": vehicle, "process": job.process, "booth": place, "round": job.round.number, "step": None}
        said = {"missed": [f"Can't be judged: {problem}"], "windows": []}
        told = about | said | {"opened": job.opened, "verdict_so_far": "unproven"}
    return told | {"windows": windows_told(told["windows"], as_of)}


def windows_told(windows: list[dict[str, Any]], as_of: int) -> list[dict[str, Any]]:
    """What is waited for, each with its earliest and latest moment together, whichever requirements they come from."""
    told: dict[str, dict[str, Any]] = {}
    for window in windows:
        kind = window["requirement"].partition("/")[2]
        what = WAITED_FOR.get(kind, kind.replace("_", " "))
        for end, word in ENDS.items():
            if window[end] is not None:
                moment = parse_time(window[end])
                one = told.setdefault(what, {"what": what, "ends": [], "late": False})
                left, sure = _left(word, moment, as_of), give_or_take(window["sooner_s"], window["later_s"])
                one["ends"].append({"word": word, "at": moment, "left": f"{left}, {sure}" if sure and moment > as_of else left})
                one["late"] |= end == "latest" and moment < as_of
    for one in told.values():
        one["ends"].sort(key=lambda end: end["word"] == "not after")
    return list(told.values())


def _left(word: str, moment: int, as_of: int) -> str:
    gap = duration_text(abs(moment - as_of) // SECOND * SECOND)
    if moment > as_of:
        return f"in {gap}"
    return "reached" if word == "not before" else f"{gap} late"


def _recent(known: Memory, as_of: int) -> list[dict[str, Any]]:
    """What was acknowledged lately, the newest first."""
    lately = takewhile(lambda one: one[0] >= as_of - RECENT, reversed(known.acknowledged))
    rows = {id(appearance): appearance.row for _, appearance in lately}
    return [row for row in rows.values() if row["acknowledged"] is not None]
