"""A climate measure over a span: direct from a point, or the dew-point margin derived from several, with its uncertainty.

`low` and `high` differ only for part temperature: a minimum is judged on the coldest probe, a maximum on the hottest. A probe
that is silent makes the measure incomplete (not `known`), but never hides what another one shows: the coldest of all is certainly
no warmer than the coldest of those that speak.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import NamedTuple

import numpy as np

from booth.judge.evidence import Evidence
from booth.judge.track import Track, align, derived, hold
from booth.physics.decision import certainly_beyond, possibly_beyond
from booth.physics.moist_air import dew_point_c, dew_point_sensitivity
from booth.shop.requirement import ClimateLimit

Extremes = Callable[[list[np.ndarray]], tuple[np.ndarray, np.ndarray, np.ndarray]]


Test = Callable[[np.ndarray, float | None, float | None, np.ndarray | float], np.ndarray]
"""Of values, minimum, maximum and uncertainty: booth.physics.decision.certainly_beyond or possibly_beyond."""


@dataclass(frozen=True)
class Measured:
    """Pieces of the span with the value to hold against the minimum and against the maximum; NaN where nothing is known."""

    edges: np.ndarray
    low: np.ndarray
    high: np.ndarray
    known: np.ndarray  # every input speaks, and so does the booth's mode where the limit asks for it
    applicable: np.ndarray  # False where the booth was in another mode
    missing: str | None  # why nothing can be known, where nothing can
    uncertainty_at: Callable[[np.ndarray], np.ndarray]  # moments -> expanded uncertainty

    def beyond(self, limit: ClimateLimit, guarded: bool) -> tuple[np.ndarray, np.ndarray]:
        """Where a limit is certainly, and where it is possibly exceeded. Simple acceptance is an uncertainty of zero."""
        u = self.uncertainty_at(self.edges[:-1]) if guarded else 0.0
        return self._exceeds(certainly_beyond, limit, u), self._exceeds(possibly_beyond, limit, u) | ~self.known

    def _exceeds(self, test: Test, limit: ClimateLimit, u: np.ndarray | float) -> np.ndarray:
        if limit.high is None:
            return test(self.low, limit.low, None, u)
        if limit.low is None:
            return test(self.high, None, limit.high, u)
        return test(self.low, limit.low, None, u) | test(self.high, None, limit.high, u)


class _Source(NamedTuple):
    """What a measure is made of: tracks, how they give (lowest, highest, all known), and the uncertainty at some moments."""

    tracks: Sequence[Track]
    extremes: Extremes
    uncertainty_at: Callable[[np.ndarray], np.ndarray]


def measure(limit: ClimateLimit, evidence: Evidence, start: int, end: int, modes: tuple[str, ...] | None = None) -> Measured:
    """The limit's measure over [start, end); with `modes`, only while the booth was in one of them."""
    source = _source(limit, evidence, start, end)
    if isinstance(source, str):
        edges = np.array([start, end] if end > start else [start], np.int64)
        nothing = np.full(len(edges) - 1, np.nan)
        return Measured(edges, nothing, nothing, np.isfinite(nothing), np.isnan(nothing), source, _constant(np.nan))
    if modes is None:
        edges, held = align(source.tracks)
        low, high, known = source.extremes(held)
        return Measured(edges, low, high, known, np.ones(len(low), bool), None, source.uncertainty_at)
    edges, held = align([*source.tracks, _mode(evidence, start, end)])
    low, high, known = source.extremes(held[:-1])
    unsaid = np.isnan(held[-1])
    wanted = np.isin(held[-1], [evidence.modes.index(mode) for mode in modes if mode in evidence.modes])
    low, high = np.where(unsaid, np.nan, low), np.where(unsaid, np.nan, high)
    # In a mode that nobody knows the limit may apply: that is a gap, not an excuse.
    return Measured(edges, low, high, known & ~unsaid, wanted | unsaid, None, source.uncertainty_at)


def _mode(evidence: Evidence, start: int, end: int) -> Track:
    if "mode" in evidence.series:
        return hold(evidence.series["mode"], start, end)
    edges = np.array([start, end] if end > start else [start], np.int64)
    return Track(edges, np.full(len(edges) - 1, np.nan))


def _source(limit: ClimateLimit, evidence: Evidence, start: int, end: int) -> _Source | str:
    """What the measure is made of, or why it can't be known."""
    if limit.measure == "dew_point_margin":
        return _margin(limit, evidence, start, end)
    if limit.measure == "part_temperature":
        if not evidence.parts:
            return "no part probe was assigned to this van"
        tracks = [hold(part.series, start, end) for part in evidence.parts]
        return _Source(tracks, _coldest_and_hottest, _constant(evidence.uncertainty.get("part_temperature", 0.0)))
    series = evidence.series.get(limit.measure)
    if series is None:
        return "no point of this booth measures it"
    return _Source([hold(series, start, end)], _coldest_and_hottest, _constant(evidence.uncertainty.get(limit.measure, 0.0)))


def _coldest_and_hottest(held: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Over those that are known, and where all are."""
    if len(held) == 1:
        return held[0], held[0], ~np.isnan(held[0])
    return reduce(np.fmin, held), reduce(np.fmax, held), ~np.isnan(reduce(np.add, held))


def _margin(limit: ClimateLimit, evidence: Evidence, start: int, end: int) -> _Source | str:
    """The surface less the dew point of the air, less what a drying film is cooler than the probe beside it."""
    air, humidity = evidence.series.get("air_temperature"), evidence.series.get("relative_humidity")
    if air is None or humidity is None:
        return "the booth has no probe for temperature and humidity"
    surfaces, surface = [part.series for part in evidence.parts], "part_temperature"
    if not surfaces and "surface_temperature" in evidence.series:
        surfaces, surface = [evidence.series["surface_temperature"]], "surface_temperature"
    if not surfaces and limit.surface_from_air:
        surfaces, surface = [air], "air_temperature"
    if not surfaces:
        return "the surface was not measured, and the coating doesn't allow the air to stand in for it"
    air_track, humidity_track = hold(air, start, end), hold(humidity, start, end)
    # The dew point first, over the changes of the air alone: it is the costly part.
    dew = derived(dew_point_c, air_track, humidity_track)

    def extremes(held: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        value = reduce(np.fmin, held[1:]) - held[0] - limit.allowance_k
        return value, value, ~np.isnan(reduce(np.add, held))

    def uncertainty_at(moments: np.ndarray) -> np.ndarray:
        edges, (air_c, rh) = align([air_track, humidity_track])
        which = np.searchsorted(edges, moments, side="right") - 1
        if len(moments) < len(air_c):  # else each piece of the air once is cheaper than each moment
            air_c, rh, which = air_c[which], rh[which], slice(None)
        per_k, per_percent = dew_point_sensitivity(air_c, rh)
        u = evidence.uncertainty
        from_air, from_humidity = per_k * u.get("air_temperature", 0.0), per_percent * u.get("relative_humidity", 0.0)
        return np.sqrt(u.get(surface, 0.0) ** 2 + from_air**2 + from_humidity**2)[which]

    return _Source([dew, *(hold(one, start, end) for one in surfaces)], extremes, uncertainty_at)


def _constant(uncertainty: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda moments: np.full(len(moments), uncertainty)
