"""Everything that one requirement is judged on: the span, the readings in it, and the facts beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from booth.judge.facts import Calibration, Check, Mix, Pass
from booth.judge.series import Series

UNKNOWN = 1e9
"""The uncertainty of an instrument whose own nobody stated: more than any value, and finite so that sums with it stay numbers."""


@dataclass(frozen=True)
class Part:
    """A contact probe on the van: where it sits, and what that is made of."""

    point: str
    zone: str
    substrate: str
    series: Series


@dataclass(frozen=True)
class Heated:
    """A bake of an earlier round, for what adds up over rounds."""

    start: int
    end: int
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class Evidence:
    """`start` is None where the step hasn't begun, `end` where it hasn't ended.

    Nothing in here is newer than the judging moment.
    """

    start: int | None
    end: int | None
    span_source: str = "entered"
    series: Mapping[str, Series] = field(default_factory=dict)  # by measure
    parts: tuple[Part, ...] = ()
    modes: tuple[str, ...] = ()  # the words of the mode point, in the order of their numbers
    uncertainty: Mapping[str, float] = field(default_factory=dict)  # expanded, by measure
    surface: str = "assumed from air"  # how the surface temperature was measured
    before: tuple[Pass, ...] = ()  # the step that this one comes after
    after: tuple[Pass, ...] = ()  # the coat that comes next, once begun
    following: int | None = None  # start of the next coat or bake
    checks: tuple[Check, ...] = ()
    mix: Mix | None = None
    mix_named: str | None = None
    volume_m3: float | None = None
    calibrations: Mapping[str, Calibration | None] = field(default_factory=dict)  # of the points that decide
    earlier: tuple[Heated, ...] = ()
    closed: int | None = None  # when the round was closed: nothing more will come
    moments: Mapping[str, int] = field(default_factory=dict)  # expanded uncertainty of a start or an end, by its source, in us

    @property
    def over(self) -> bool:
        return self.closed is not None

    def latest(self, as_of: int) -> int:
        """The judging moment, or the close of the round before it: no clock runs on in a closed round."""
        return as_of if self.closed is None else min(as_of, self.closed)

    def span(self, as_of: int) -> tuple[int, int]:
        """The stretch to judge, up to the judging moment."""
        start = self.start if self.start is not None else as_of
        return start, max(start, self.latest(as_of) if self.end is None else min(as_of, self.end))

    def final(self, as_of: int) -> bool:
        """Whether the span is over."""
        return self.over or (self.end is not None and self.end <= as_of)
