"""How a filter loads: its drop while spraying, day by day since it was changed, and when that meets the change-out drop."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from booth.judge.care import CareBook
from booth.physics.loading import FEWEST, ChangeOut, change_out
from booth.reports.ventilation_air import Room, while_spraying
from booth.times import DAY, HOUR, SECOND, format_time

LOOK_BACK_US = 60 * DAY
"""A filter that was never changed on record: further back its drop says little about now, and reading costs."""

SHORTEST_S = 120.0
"""Less spraying than this in a day or hour gives it no point of the line; common practice, no source."""


def filters(room: Room, book: CareBook, end: int) -> list[dict[str, Any]]:
    """Each filter of the booth as it stands at a moment."""
    told = room.booth.ventilation
    if told is None:
        return []
    found = []
    for name, one in told.filters.items():
        changes = [deed for deed in book.of(room.id, "filter-changed", until=end) if deed.subject == name]
        changed = changes[-1].time if changes else None
        paper = (changes[-1].body.get("paper") if changes else None) or one.paper
        told_by = {"filter": name, "side": one.side, "changed": None if changed is None else format_time(changed), "paper": paper}
        trend = _trend(room, one.point, one.change_out, changed, end) if one.point is not None else None
        limit = {"point": f"{room.id}/{one.point}" if one.point else None, "change_out": one.change_out, "source": one.source}
        found.append(told_by | limit | {"trend": trend})
    return found


def _trend(room: Room, point: str, level: float | None, changed: int | None, end: int) -> dict[str, Any]:
    """By days of spraying, or by hours where there are too few days."""
    start = max(changed if changed is not None else end - LOOK_BACK_US, end - LOOK_BACK_US)
    by, means = "day", list(_means(room, point, start, end, DAY))
    if len(means) < FEWEST:
        by, means = "hour", list(_means(room, point, start, end, HOUR))
    times, drops = np.array([one[0] for one in means], float), np.array([one[1] for one in means], float)
    days = times / DAY
    line = change_out(days, drops, level if level is not None else np.nan)
    told = {"since": format_time(start), "by": by, "points": len(means), "newest": float(drops[-1]) if len(drops) else None}
    if line is None:
        return told | dict.fromkeys(("slope_per_day", "slope_uncertainty", "expected", "earliest", "latest", "why"))
    why = no_date(line, days, level)
    told |= {"slope_per_day": line.slope, "slope_uncertainty": line.slope_uncertainty, "why": why}
    moments = {name: None if why else getattr(line, name) for name in ("expected", "earliest", "latest")}
    return told | {name: None if at is None else format_time(round(at * DAY / SECOND) * SECOND) for name, at in moments.items()}


def no_date(line: ChangeOut, days: np.ndarray, level: float | None) -> str | None:
    """Why no date is told, where none is."""
    if level is None:
        return "no change-out drop is stated"
    if line.slope <= line.slope_uncertainty:
        return "no rise stands out of the scatter"
    if line.expected is None or line.expected > days[-1] + (days[-1] - days[0]):
        return "further ahead than the line reaches back"
    return None


def _means(room: Room, point: str, start: int, end: int, step: int) -> Iterator[tuple[int, float]]:
    """(middle, mean drop while spraying) of each step that sprayed long enough."""
    first = start // step * step
    for begin in range(first, end, step):
        past = min(begin + step, end)
        begin = max(begin, start)
        mode = room.track(room.booth.mode_point, begin, past)
        edges, values, spray = while_spraying(room, mode, point, begin, past)
        seconds, known = np.diff(edges) / SECOND, spray & ~np.isnan(values)
        if seconds[known].sum() >= SHORTEST_S:
            middles = (edges[1:] + edges[:-1]) / 2
            middle, mean = (float(np.average(one[known], weights=seconds[known])) for one in (middles, values))
            yield round(middle), mean
