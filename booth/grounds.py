"""What findings rest on: points over a stretch of time, with a hash by which the readings can be checked years later.

A stretch may begin long before its step: pot life rests on the pot since mixing, a flash-off on the air since the coat before it.
It begins earlier still by as long as a reading speaks for its point, so that the reading held from before is in the hash too.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from booth.judge.gather import Case, Gatherer
from booth.shop.requirement import Requirement
from booth.store.readings import Readings
from booth.times import format_time, parse_time


@dataclass(frozen=True)
class Ground:
    """All readings of some points with start <= time < end, microseconds UTC; `requirements`: ids of those that rest on them."""

    points: tuple[str, ...]
    start: int
    end: int
    requirements: tuple[str, ...] = ()

    def sha256(self, readings: Readings, known_by: int | None = None) -> str:
        """Of the readings as the store has them now, or of those that had arrived by a moment."""
        return readings.evidence_sha256(self.points, self.start, self.end, known_by)

    def body(self, sha256: str) -> dict[str, Any]:
        """As the journal keeps it (`grounds_in` reads it back)."""
        return {
            "requirements": list(self.requirements),
            "points": list(self.points),
            "start": format_time(self.start),
            "end": format_time(self.end),
            "sha256": sha256,
        }


def grounds(gatherer: Gatherer, requirements: Iterable[Requirement], case: Case) -> list[Ground]:
    """What these requirements of one step rest on: each stretch once, with the points of all that share it."""
    sharing: dict[tuple[int, int], dict[str, set[str]]] = defaultdict(dict)
    for requirement in requirements:
        each = _by_mix(case)
        points = {name for one in each for name in gatherer.points(requirement, one)}
        stretches = [stretch for one in each if (stretch := gatherer.stretch(requirement, one)) is not None]
        if points and stretches:
            sharing[min(stretches)][requirement.id] = points
    return [_ground(gatherer, stretch, named) for stretch, named in sorted(sharing.items())]


def _ground(gatherer: Gatherer, stretch: tuple[int, int], named: Mapping[str, set[str]]) -> Ground:
    points = tuple(sorted(set().union(*named.values())))
    return Ground(points, stretch[0] - _held_us(gatherer, points), stretch[1], tuple(named))


def grounds_in(body: Mapping[str, Any]) -> Iterator[tuple[Ground, str]]:
    """What a `finding` entry rests on, with the hash it has of each. The first ones had one hash, of the step's own time."""
    parts = [body | {"sha256": body["evidence_sha256"]}] if "evidence_sha256" in body else body["evidence"]
    for one in parts:
        ground = Ground(
            tuple(one["points"]), parse_time(one["start"]), parse_time(one["end"]), tuple(one.get("requirements", ()))
        )
        yield ground, one["sha256"]


def hashes_in(body: Mapping[str, Any]) -> list[str]:
    return [sha256 for _, sha256 in grounds_in(body)]


def _by_mix(case: Case) -> list[Case]:
    """A coat that used several mixes rests on the pot of each."""
    mixes = case.run.mixes if case.run is not None else ()
    return [replace(case, run=replace(case.run, mix=mix)) for mix in mixes] if len(mixes) > 1 else [case]


def _held_us(gatherer: Gatherer, points: Iterable[str]) -> int:
    """How old the oldest reading can be that still counts at the start: a probe that was too hot recovers before it."""
    known = [gatherer.shop.booths[booth].points[name] for booth, _, name in (point.partition("/") for point in points)]
    return max(point.max_age for point in known) + max(point.recovery for point in known)
