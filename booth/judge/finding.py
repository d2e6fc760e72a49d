"""What the judge says of one requirement."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from booth.judge.track import Stretch


class Verdict(StrEnum):
    """Three verdicts exist, and silence is never `met`."""

    MET = "met"
    MISSED = "missed"
    UNPROVEN = "unproven"


@dataclass(frozen=True)
class Window:
    """Earliest and latest moment for the next step, in microseconds; None where there is no such limit or it isn't known yet.

    `sooner_us` and `later_us`: by how much either moment may come sooner or later than stated, with about 95 %; None where nobody
    knows.
    """

    earliest: int | None
    latest: int | None
    sooner_us: int | None = None
    later_us: int | None = None


@dataclass(frozen=True)
class Finding:
    """One requirement judged on the evidence known at `as_of`.

    Values are in the unit used inside for `quantity` (booth.units.KINDS); `margin` is positive inside the limit; `uncertainty` is
    expanded (k = 2) and in the unit of `observed`; `probability` is that of the true value's conforming, where both are known and
    the span is over. `final` is false while the span is open and something can still change the verdict.
    """

    requirement: str
    kind: str
    step: str
    verdict: Verdict
    final: bool
    sentence: str
    quantity: str
    low: float | None
    high: float | None
    source: str
    observed: float | None = None
    margin: float | None = None
    uncertainty: float | None = None
    probability: float | None = None
    zone: str | None = None
    start: int | None = None
    end: int | None = None
    span_source: str = "entered"
    coverage: float | None = None
    largest_gap_us: int = 0
    excursions: tuple[Stretch, ...] = ()
    window: Window | None = None
    evidence_sha256: str = ""


def overall(verdicts: Iterable[Verdict]) -> Verdict:
    """Missed over unproven over met; no findings is unproven."""
    seen = set(verdicts)
    if Verdict.MISSED in seen:
        return Verdict.MISSED
    if Verdict.UNPROVEN in seen or not seen:
        return Verdict.UNPROVEN
    return Verdict.MET
