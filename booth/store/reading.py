"""One reading, and what is told of many."""

from __future__ import annotations

from dataclasses import dataclass

from booth.store.chunk import GOOD


@dataclass(frozen=True)
class Reading:
    """One value of one point.

    `sent` is the decimal or word exactly as sent, in `unit`; `value` the same in the unit used inside, as version `mapping` of
    the point's mapping converts it. `time` is the instrument's, `arrived` ours (microseconds UTC).
    """

    point: str
    time: int
    arrived: int
    sent: str
    unit: str
    value: float
    mapping: int
    quality: str = GOOD


@dataclass(frozen=True)
class Stored:
    """What became of a batch; the three add up to its length. A conflict is kept too, beside what it contradicts."""

    stored: int
    duplicates: int
    conflicts: int


@dataclass(frozen=True)
class Held:
    """How many readings of a point are hot, how many sealed, and the bytes of its chunks."""

    point: str
    hot: int
    sealed: int
    sealed_bytes: int
