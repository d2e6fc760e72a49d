"""A point's faults so that those of a stretch are found without going through years of them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from itertools import accumulate

from booth.judge.health.spans import Interval

LASTING = 2**62


class Spells:
    """Intervals by fault: those of one fault hardly overlap, so their ends ascend as their beginnings do."""

    def __init__(self, intervals: Iterable[Interval]) -> None:
        """`intervals` by their beginning."""
        self.all = tuple(intervals)
        by_fault: dict[tuple[str, bool], list[Interval]] = {}
        for one in self.all:
            by_fault.setdefault((one.fault, one.withdrawn), []).append(one)
        self._rows = [
            (own, [one.start for one in own], list(accumulate((LASTING if one.end is None else one.end for one in own), max)))
            for own in by_fault.values()
        ]

    def touching(self, start: int, end: int) -> list[Interval]:
        """Those with some of [start, end) in them, by their beginning."""
        found: list[Interval] = []
        for own, starts, latest in self._rows:
            some = own[bisect_left(latest, start + 1) : bisect_left(starts, end)]
            found += [one for one in some if one.touches(start, end)]
        return sorted(found, key=lambda one: (one.start, one.fault))
