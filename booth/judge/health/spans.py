"""What a detector finds, and what the journal knows."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Span:
    """A fault over [start, end), microseconds UTC; `end` is None while it lasts.

    `certain`: the moment from which the readings prove it (a probe is known to be stuck only after a while, and was since the
    beginning of that while). `offset_us`: of a clock that is off, arrival less the instrument's own time.
    """

    start: int
    end: int | None
    certain: int
    offset_us: int | None = None


@dataclass(frozen=True)
class Interval:
    """A fault of a point, as the journal knows it. `entries`: how many entries of the journal it is made of."""

    point: str
    fault: str
    start: int
    end: int | None
    certain: int
    offset_us: int | None = None
    withdrawn: bool = False
    entries: int = 1

    def touches(self, start: int, end: int) -> bool:
        return self.start < end and (self.end is None or self.end > start)
