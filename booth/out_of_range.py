"""Readings outside their instrument's range: quarantined, so no evidence, but they say something about the instrument."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from math import inf

import numpy as np

from booth.readers.decode import decode
from booth.readers.points import PointMap
from booth.readers.received import ReadingIn
from booth.shop.shop import Shop
from booth.store.quarantine import Quarantine
from booth.wiring import point_map


class Impossible:
    """Follows the quarantine and keeps the times of what was refused as out of range, by point."""

    def __init__(self, shop: Shop, quarantine: Quarantine) -> None:
        self._quarantine, self._points = quarantine, _boundless(point_map(shop))
        self._read_to = 0
        self._times: dict[str, set[int]] = defaultdict(set)

    def new(self) -> list[tuple[str, int, int]]:
        """(point, instrument time, arrival) of everything refused since the last time."""
        found = []
        for number, one in self._quarantine.after(self._read_to, "out_of_range"):
            self._read_to = number
            for outcome in decode(one.origin, one.payload, one.arrived, self._points):
                if isinstance(outcome, ReadingIn):
                    found.append((outcome.point, outcome.time, one.arrived))
                    self._times[outcome.point].add(outcome.time)
        return found

    def times(self, point: str, start: int, end: int) -> np.ndarray:
        """Instrument times in [start, end], ascending."""
        return np.array(sorted(time for time in self._times.get(point, ()) if start <= time <= end), np.int64)

    def forget_before(self, us: int) -> None:
        for point, times in self._times.items():
            if times and min(times) < us:
                self._times[point] = {time for time in times if time >= us}


def _boundless(points: PointMap) -> PointMap:
    """The same points without limits to what they can mean, to read what was refused for its value alone."""
    return replace(points, points={name: replace(spec, low=-inf, high=inf) for name, spec in points.points.items()})
