"""Fresh air before each bake, in volumes of the booth as the flow was recorded, and what stopped the fan."""

from __future__ import annotations

from typing import Any

from booth.judge.infer import Stretch
from booth.judge.track import stretches
from booth.physics.ventilation import volumes_exchanged
from booth.reports.ventilation_air import Room
from booth.times import HOUR, SECOND, format_time

LOOK_BACK_US = 12 * HOUR
"""How long before the period a purge may have begun that its first bake rests on; common practice, no source."""


def bakes(room: Room, start: int, end: int) -> list[dict[str, Any]]:
    """Each bake with the fresh air recorded before it: in purges since the bake before and since the last spraying."""
    since = start - LOOK_BACK_US
    purges, sprays, hot = (room.in_mode(mode, since, end) for mode in ("purge", "spray", "bake"))
    found, earlier = [], since
    for bake in hot:
        wet = max([one.end for one in sprays if one.end is not None and one.end <= bake.start], default=since)
        own = [one for one in purges if one.end is not None and max(earlier, wet) - 10 * SECOND <= one.start < bake.start]
        if bake.start >= start:
            found.append(_bake(room, bake, own))
        earlier = bake.end if bake.end is not None else end
    return found


def _bake(room: Room, bake: Stretch, purges: list[Stretch]) -> dict[str, Any]:
    point, volume = room.measuring("air_flow"), room.booth.volume
    told = {
        "start": format_time(bake.start),
        "end": None if bake.end is None else format_time(bake.end),
        "purge_from": format_time(purges[0].start) if purges else None,
        "purge_to": format_time(purges[-1].end) if purges else None,
        "volumes": None,
        "volumes_uncertainty": None,
        "unknown_s": None,
    }
    if not purges or point is None or volume is None:
        return told
    total, missing, seconds = 0.0, 0.0, 0.0
    for purge in purges:
        flow = room.series(point, purge.start, purge.end).held_to(purge.end)
        one = volumes_exchanged(flow.times, flow.values, volume, flow.max_age_us, start_us=purge.start, end_us=purge.end)
        total, missing = total + one.volumes, missing + one.missing_s
        seconds += (purge.end - purge.start) / SECOND
    u = room.booth.points[point].uncertainty()
    return told | {
        "volumes": total,
        "volumes_uncertainty": None if u is None else u * seconds / volume,
        "unknown_s": missing,
    }


def trips(room: Room, start: int, end: int) -> dict[str, Any]:
    """When the fan's interlock was open, and when the booth said that it had a fault."""
    told = room.booth.ventilation
    point = told.interlock_point if told is not None else None
    open_ = []
    if point is not None:
        track = room.track(point, start, end)
        open_ = [_span(one.start, one.end) for one in stretches(track.edges, track.values < 0.5)]
    faults = [_span(one.start, one.end) for one in room.in_mode("fault", start, end)]
    return {"point": None if point is None else f"{room.id}/{point}", "open": open_, "faults": faults}


def _span(start: int, end: int | None) -> dict[str, Any]:
    return {"from": format_time(start), "to": None if end is None else format_time(end)}
