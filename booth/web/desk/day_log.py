"""One day of a booth's ventilation log for its page: the report's own arithmetic (booth.reports.ventilation_air), day by day.

Days are the site's own, from midnight to midnight: 23 or 25 hours at a clock change. A stretch of which nothing was recorded is a
hole; it counts neither as in use nor as idle.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from booth.reports.ventilation_air import Room, gaps, of_period
from booth.times import parse_time

IN_USE = ("spray", "flash", "purge", "bake", "cool")


@dataclass(frozen=True)
class Piece:
    """[start, end) in one mode; None: a hole."""

    start: int
    end: int
    mode: str | None


@dataclass(frozen=True)
class AirHole:
    """[start, end) in which no air velocity was read that can be believed; for so long of it the booth sprayed."""

    start: int
    end: int
    spraying_s: float


@dataclass(frozen=True)
class DayLog:
    """One day of one booth. `end` is midnight, or now; `told` has what of_period tells of it."""

    day: date
    start: int
    end: int
    pieces: tuple[Piece, ...]
    air_holes: tuple[AirHole, ...]
    told: Mapping[str, Any]

    @property
    def holes(self) -> list[Piece]:
        return [piece for piece in self.pieces if piece.mode is None]

    @property
    def used_s(self) -> dict[str, float]:
        """Seconds by mode, of the modes that are a use of the booth."""
        return {mode: self.told["modes_s"].get(mode, 0.0) for mode in IN_USE}

    @property
    def below(self) -> list[tuple[int, int]]:
        """Stretches of spraying in which the air was slower than the booth's own limit."""
        found = (self.told["velocity"] or {}).get("beyond", ())
        return [(parse_time(one["from"]), parse_time(one["to"])) for one in found]


def day_log(room: Room, day: date, start: int, end: int) -> DayLog:
    """The log of [start, end), which is the day, or as much of it as is over."""
    air = f"{room.id}/{room.measuring('air_velocity')}"
    silent = [
        AirHole(parse_time(one["from"]), parse_time(one["to"]), one["spraying_s"])
        for one in gaps(room, start, end)
        if one["point"] == air
    ]
    return DayLog(day, start, end, tuple(_pieces(room, start, end)), tuple(silent), of_period(room, start, end))


def _pieces(room: Room, start: int, end: int) -> Iterator[Piece]:
    """What the booth was doing, one after another, for drawing it."""
    words = room.booth.points[room.booth.mode_point].words or ()
    track = room.track(room.booth.mode_point, start, end)
    values = np.where(np.isnan(track.values), -1.0, track.values)
    turns = np.flatnonzero(np.diff(values)) + 1
    for first, past in zip([0, *turns.tolist()], [*turns.tolist(), len(values)], strict=True):
        if past > first:
            index = int(values[first])
            yield Piece(int(track.edges[first]), int(track.edges[past]), words[index] if index >= 0 else None)
