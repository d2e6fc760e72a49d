"""What a booth's air did in one period: pure arithmetic over readings that come through a port.

A reading holds until the next one or its `max_age`; means are over time, not over readings. Where nothing was read, nothing is
known: it counts neither for nor against, and its seconds are told. What an instrument said while it had a fault that the journal
knows of is nothing read. A value of "spraying" is one while the booth said so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from booth.judge.gather import Readings
from booth.judge.health.overlay import believable
from booth.judge.infer import Stretch, mode_stretches
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.judge.track import Track, align, hold, runs
from booth.shop.room import Booth
from booth.times import SECOND, format_time

SPRAYED = ("air_velocity", "air_flow", "booth_pressure")


@dataclass(frozen=True)
class Room:
    """A booth's readings by point, without what a faulty instrument said; everything below asks it."""

    id: str
    booth: Booth
    readings: Readings
    ledger: Ledger

    def series(self, point: str, start: int, end: int) -> Series:
        """What can be believed of a point, as in the records: [start, end) and the last reading before, if not too old."""
        name = f"{self.id}/{point}"
        found = self.readings.evidence(name, start, end, self.booth.points[point].max_age)
        return believable(found, self.ledger.unhealthy(name))

    def track(self, point: str, start: int, end: int) -> Track:
        return hold(self.series(point, start, end), start, end)

    def measuring(self, measure: str) -> str | None:
        """The booth's one point for a measure."""
        return next(iter(self.booth.measuring(measure)), None)

    def mode_number(self, word: str) -> int | None:
        words = self.booth.points[self.booth.mode_point or ""].words or ()
        return words.index(word) if word in words else None

    def in_mode(self, word: str, start: int, end: int) -> list[Stretch]:
        """Stretches of a mode, of one that began earlier its part from `start` on; one that goes on at the end has none."""
        number = self.mode_number(word)
        if number is None or self.booth.mode_point is None:
            return []
        told = mode_stretches(self.series(self.booth.mode_point, start, end), number, end)
        return [replace(one, start=max(one.start, start)) for one in told]

    def limit(self, measure: str, mode: str = "spray") -> tuple[float | None, float | None, str | None]:
        """The booth's own limit: (minimum, maximum, source)."""
        for one in self.booth.limits:
            if one.measure == measure and mode in one.modes:
                return one.minimum, one.maximum, one.source
        return None, None, None


def of_period(room: Room, start: int, end: int) -> dict[str, Any]:
    """Seconds by mode, and what the air did while the booth sprayed."""
    mode = room.track(room.booth.mode_point, start, end)
    words = room.booth.points[room.booth.mode_point].words or ()
    seconds = mode.lengths / SECOND
    told = {word: float(seconds[mode.values == number].sum()) for number, word in enumerate(words)}
    flow = _sprayed(room, mode, "air_flow", start, end)
    volume = room.booth.volume
    return {
        "modes_s": told,
        "mode_unknown_s": float(seconds[np.isnan(mode.values)].sum()),
        "guns_on_s": _guns_on(room, start, end),
        "velocity": _sprayed(room, mode, "air_velocity", start, end),
        "flow": flow,
        "pressure": _sprayed(room, mode, "booth_pressure", start, end),
        "filters": {name: drop for name, drop in _drops(room, mode, start, end)},
        "air_changes": 3600 * flow["mean"] / volume if flow and flow["mean"] is not None and volume else None,
    }


def _guns_on(room: Room, start: int, end: int) -> float | None:
    """Seconds in which any gun was on; None where no gun was read, or nobody says from which flow one is on."""
    guns = room.booth.measuring("gun_flow")
    if not guns or room.booth.hazard is None:
        return None
    edges, values = align([room.track(gun, start, end) for gun in guns])
    if np.all(np.isnan(values)):
        return None
    on = np.any([one > room.booth.hazard.spraying_flow for one in values], axis=0)
    return float(np.diff(edges)[on].sum()) / SECOND


def _sprayed(room: Room, mode: Track, measure: str, start: int, end: int) -> dict[str, Any] | None:
    point = room.measuring(measure)
    if point is None:
        return None
    low, high, source = room.limit(measure)
    edges, values, spray = while_spraying(room, mode, point, start, end)
    seconds = np.diff(edges) / SECOND
    beyond = spray & ((values < low if low is not None else False) | (values > high if high is not None else False))
    known = spray & ~np.isnan(values)
    known_s = float(seconds[known].sum())
    judged = known_s > 0 and (low is not None or high is not None)  # else nobody can say, which is no zero
    beyond_s = float(seconds[beyond].sum()) if judged else None
    return {
        "point": f"{room.id}/{point}",
        **_figures(values[known], seconds[known]),
        "known_s": known_s,
        "unknown_s": float(seconds[spray].sum()) - known_s,
        "minimum": low,
        "maximum": high,
        "source": source,
        "beyond_s": beyond_s,
        "beyond_share": beyond_s / known_s if beyond_s is not None else None,
        "beyond": list(_clocked(edges, values, beyond, low)),
    }


def while_spraying(room: Room, mode: Track, point: str, start: int, end: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges, the point's values and where the booth sprayed, in pieces."""
    edges, (modes, values) = align([mode, room.track(point, start, end)])
    number = room.mode_number("spray")
    return edges, values, modes == number if number is not None else np.zeros(len(modes), bool)


def _figures(values: np.ndarray, seconds: np.ndarray) -> dict[str, float | None]:
    if not seconds.sum():
        return {"mean": None, "lowest": None, "highest": None}
    return {
        "mean": float(np.average(values, weights=seconds)),
        "lowest": float(values.min()),
        "highest": float(values.max()),
    }


def _clocked(edges: np.ndarray, values: np.ndarray, where: np.ndarray, low: float | None) -> Iterator[dict[str, Any]]:
    for first, past in runs(where):
        own = values[first:past]
        worst = own.min() if low is not None and own.min() < low else own.max()
        yield {
            "from": format_time(int(edges[first])),
            "to": format_time(int(edges[past])),
            "seconds": float(edges[past] - edges[first]) / SECOND,
            "worst": float(worst),
        }


def _drops(room: Room, mode: Track, start: int, end: int) -> Iterator[tuple[str, dict[str, Any] | None]]:
    filters = room.booth.ventilation.filters if room.booth.ventilation is not None else {}
    for name, one in filters.items():
        if one.point is None:
            yield name, None
            continue
        edges, values, spray = while_spraying(room, mode, one.point, start, end)
        seconds, known = np.diff(edges) / SECOND, spray & ~np.isnan(values)
        figures = _figures(values[known], seconds[known]) | {"known_s": float(seconds[known].sum())}
        yield name, {"point": f"{room.id}/{one.point}"} | figures


def gaps(room: Room, start: int, end: int) -> Iterator[dict[str, Any]]:
    """Every stretch in which a point of the log said nothing, and how much of it the booth sprayed or may have."""
    mode = room.track(room.booth.mode_point, start, end)
    number = room.mode_number("spray")
    for name in log_points(room.booth):
        track = room.track(name, start, end)
        edges, (modes, values) = align([mode, track])
        unknown = np.isnan(values)
        for first, past in runs(unknown):
            lengths, own = np.diff(edges[first : past + 1]) / SECOND, modes[first:past]
            yield {
                "point": f"{room.id}/{name}",
                "from": format_time(int(edges[first])),
                "to": format_time(int(edges[past])),
                "seconds": float(lengths.sum()),
                "spraying_s": float(lengths[own == number].sum()),
                "mode_unknown_s": float(lengths[np.isnan(own)].sum()),
            }


def log_points(booth: Booth) -> list[str]:
    """The points that the log rests on, in the order of the file."""
    measures = ("mode", *SPRAYED, "filter_pressure_drop", "gun_flow", "fan_interlock")
    return [name for name, point in booth.points.items() if point.measure in measures]
