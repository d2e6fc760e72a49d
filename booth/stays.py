"""Where a van stood, and when it was alone there: what instruments of a booth can tell of it at all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from booth.judge.facts import Job

EVER = 2**62


@dataclass(frozen=True)
class Stay:
    """A van in a booth, however often its load was entered anew meanwhile. `alone`: when no other van was in with it."""

    booth: str
    start: int
    end: int | None
    alone: tuple[tuple[int, int | None], ...]

    def covers(self, us: int) -> bool:
        return self.start <= us and (self.end is None or us < self.end)

    def overlaps(self, other: Stay) -> bool:
        return self.start < other.reach and other.start < self.reach

    @property
    def reach(self) -> int:
        """Its end, or for ever."""
        return EVER if self.end is None else self.end

    @property
    def is_alone_throughout(self) -> bool:
        alone = self.alone_at(self.start)
        return alone is not None and (alone[1] is None or alone[1] >= self.reach)

    @property
    def changes(self) -> list[int]:
        """When another van came in or left. Nobody sprays while a van is moved."""
        return sorted({us for span in self.alone for us in span if us is not None} - {self.start, self.end})

    def alone_at(self, us: int) -> tuple[int, int | None] | None:
        """The span in which no other van was in with it, at this moment."""
        return next((span for span in self.alone if span[0] <= us and (span[1] is None or us < span[1])), None)


def stays(job: Job) -> list[Stay]:
    """Where the van stood in its latest round. A load that names it elsewhere takes it out of where it stood before."""
    found: list[Stay] = []
    for place, following in zip(job.places, [*job.places[1:], None], strict=False):
        end = place.end
        if following is not None and following.booth != place.booth:
            end = following.start if end is None else min(end, following.start)
        here = Stay(place.booth, place.start, end, ((place.start, end),) if place.alone else ())
        if found and found[-1].booth == here.booth and found[-1].end == here.start:
            here = _joined(found.pop(), here)
        found.append(here)
    opened = job.round.opened if job.round.number > 1 else None  # a van may be loaded before anybody opens its job
    return [
        stay if opened is None else replace(stay, start=max(stay.start, opened))
        for stay in found
        if opened is None or stay.end is None or stay.end > opened
    ]


def stays_of_all_rounds(job: Job) -> Iterator[tuple[Job, Stay]]:
    """Where the van ever stood, each time with the job as it was in that round."""
    reopened = [*(round_.opened for round_ in job.rounds[1:]), EVER]
    for number, until in enumerate(reopened, 1):
        then = replace(job, rounds=job.rounds[:number])
        for stay in stays(then):
            if stay.start < until:
                yield then, stay if stay.reach <= until else replace(stay, end=until)


def _joined(before: Stay, after: Stay) -> Stay:
    alone = [*before.alone, *after.alone]
    if before.alone and after.alone and before.alone[-1][1] == after.alone[0][0]:
        alone = [*before.alone[:-1], (before.alone[-1][0], after.alone[0][1]), *after.alone[1:]]
    return Stay(before.booth, before.start, after.end, tuple(alone))
