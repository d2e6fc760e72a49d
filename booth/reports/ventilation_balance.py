"""Make-up air against exhaust while a booth sprayed, where the booth's file says which flow is which. By volume, as measured.

Heated make-up air is thinner, so that what is balanced by mass looks out of balance by some per cent here; by mass it is
`booth airflow balance`, which takes both temperatures.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from booth.judge.track import align
from booth.reports.ventilation_air import Room
from booth.times import SECOND


def sides(room: Room) -> dict[str, Any]:
    """The two points of the balance, or `why` none can be made."""
    told = room.booth.ventilation
    named = {"intake": told and told.intake_flow, "exhaust": told and told.exhaust_flow}
    points = {side: name and f"{room.id}/{name}" for side, name in named.items()}
    return points | {"why": None if all(named.values()) else _why(room)}


def _why(room: Room) -> str:
    measured = [f"{room.id}/{name}" for name in room.booth.measuring("air_flow")]
    if len(measured) > 1:
        return "the booth's file doesn't say which of its flows is the intake's and which the exhaust's"
    have = f"one air flow is measured ({measured[0]})" if measured else "no air flow is measured"
    return f"{have}, and a balance needs intake and exhaust"


def balance(room: Room, start: int, end: int) -> dict[str, Any] | None:
    """Mean flows while spraying, over the time in which both are known, and intake less exhaust. None where none can be made."""
    told = room.booth.ventilation
    if told is None or told.intake_flow is None or told.exhaust_flow is None:
        return None
    points = (told.intake_flow, told.exhaust_flow)
    tracks = [room.track(name, start, end) for name in (room.booth.mode_point or "", *points)]
    edges, (modes, intake, exhaust) = align(tracks)
    seconds, spray = np.diff(edges) / SECOND, modes == room.mode_number("spray")
    known = spray & ~np.isnan(intake) & ~np.isnan(exhaust)
    known_s = float(seconds[known].sum())
    means = [float(np.average(one[known], weights=seconds[known])) if known_s else None for one in (intake, exhaust)]
    spreads = [room.booth.points[name].uncertainty() for name in points]
    return {
        "intake": means[0],
        "exhaust": means[1],
        "difference": means[0] - means[1] if known_s else None,
        "difference_uncertainty": None if None in spreads else math.hypot(*spreads),
        "share": (means[0] - means[1]) / means[1] if known_s and means[1] > 0 else None,
        "known_s": known_s,
        "unknown_s": float(seconds[spray].sum()) - known_s,
    }
