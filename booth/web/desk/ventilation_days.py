"""What a booth's air did, day by day: pure arithmetic over readings that come through a port.

Days are the site's own, from midnight to midnight: 23 or 25 hours at a clock change. A stretch of which nothing was recorded is a
hole; it counts neither as in use nor as idle.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from booth.judge.gather import Readings
from booth.judge.track import Track, hold, stretches
from booth.shop.room import Booth
from booth.times import SECOND

IN_USE = ("spray", "flash", "purge", "bake", "cool")
SHOWN = ("air_velocity", "booth_pressure", "filter_pressure_drop")


@dataclass(frozen=True)
class Piece:
    """[start, end) in one mode; None: a hole."""

    start: int
    end: int
    mode: str | None


@dataclass(frozen=True)
class Sprayed:
    """One measure over the time in which the booth sprayed; None where it wasn't known at all. Values in the unit used inside."""

    low: float | None
    mean: float | None
    high: float | None
    unknown_s: float


@dataclass(frozen=True)
class DayLog:
    """One day of one booth. `end` is midnight, or now."""

    day: date
    start: int
    end: int
    pieces: tuple[Piece, ...]
    seconds: Mapping[str, float]  # by mode
    sprayed: Mapping[str, Sprayed]  # by measure; empty when it didn't spray
    below: tuple[tuple[int, int], ...] = ()  # stretches of spraying below the least velocity
    silent: Mapping[str, tuple[tuple[int, int], ...]] = field(default_factory=dict)  # holes by measure

    @property
    def holes(self) -> list[Piece]:
        return [piece for piece in self.pieces if piece.mode is None]

    @property
    def below_s(self) -> float:
        return sum(end - start for start, end in self.below) / SECOND

    @property
    def hole_s(self) -> float:
        return sum(piece.end - piece.start for piece in self.holes) / SECOND


def day_log(booth_id: str, booth: Booth, readings: Readings, day: date, start: int, end: int) -> DayLog:
    """The log of [start, end), which is the day, or as much of it as is over."""
    pieces = tuple(_pieces(booth_id, booth, readings, start, end))
    sprays = [piece for piece in pieces if piece.mode == "spray"]
    tracks = {measure: [_track(booth_id, booth, readings, measure, one.start, one.end) for one in sprays] for measure in SHOWN}
    known = {measure: [one for one in own if one is not None] for measure, own in tracks.items()}
    least = least_velocity(booth)
    below = [
        (one.start, one.end)
        for track in known["air_velocity"]
        if least is not None
        for one in stretches(track.edges, track.values < least)
    ]
    return DayLog(
        day,
        start,
        end,
        pieces,
        {mode: sum(one.end - one.start for one in pieces if one.mode == mode) / SECOND for mode in IN_USE},
        {measure: _sprayed(own) for measure, own in known.items() if own},
        tuple(below),
        {measure: tuple(_silence(booth_id, booth, readings, measure, start, end)) for measure in SHOWN},
    )


def least_velocity(booth: Booth) -> float | None:
    """The booth's own limit while spraying, m/s."""
    limits = (one.minimum for one in booth.limits if one.measure == "air_velocity" and "spray" in one.modes)
    return next((one for one in limits if one is not None), None)


def _pieces(booth_id: str, booth: Booth, readings: Readings, start: int, end: int) -> Iterable[Piece]:
    point = booth.points[booth.mode_point or ""]
    track = hold(readings.evidence(f"{booth_id}/{booth.mode_point}", start, end, point.max_age), start, end)
    values = np.where(np.isnan(track.values), -1.0, track.values)
    turns = np.flatnonzero(np.diff(values)) + 1
    firsts, pasts = np.append(0, turns), np.append(turns, len(values))
    for first, past in zip(firsts.tolist(), pasts.tolist(), strict=True):
        if past > first:
            index = int(values[first])
            yield Piece(int(track.edges[first]), int(track.edges[past]), (point.words or ())[index] if index >= 0 else None)


def _track(booth_id: str, booth: Booth, readings: Readings, measure: str, start: int, end: int) -> Track | None:
    for name in booth.measuring(measure)[:1]:
        return hold(readings.evidence(f"{booth_id}/{name}", start, end, booth.points[name].max_age), start, end)
    return None


def _sprayed(tracks: list[Track]) -> Sprayed:
    """Over time, not over readings: each holds until the next."""
    values = np.concatenate([track.values for track in tracks])
    seconds = np.concatenate([track.lengths for track in tracks]) / SECOND
    known = ~np.isnan(values)
    unknown = float(seconds[~known].sum())
    if not known.any():
        return Sprayed(None, None, None, unknown)
    values, seconds = values[known], seconds[known]
    return Sprayed(float(values.min()), float(np.average(values, weights=seconds)), float(values.max()), unknown)


def _silence(booth_id: str, booth: Booth, readings: Readings, measure: str, start: int, end: int) -> Iterable[tuple[int, int]]:
    track = _track(booth_id, booth, readings, measure, start, end)
    if track is not None:
        yield from ((one.start, one.end) for one in stretches(track.edges, np.isnan(track.values)))
