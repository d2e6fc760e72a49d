"""Excursions and gaps of a span weighed against what the requirement tolerates.

What is certainly beyond the limit for longer than the grace is missed, whatever the coverage. What is possibly beyond it for
longer (inside the guard band, or unknown: a gap at its least favourable, joined to the excursions beside it) is unproven. So is a
span with too little coverage or too long a gap. Everything else is met.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from booth.judge.finding import Verdict
from booth.judge.judging import bearable_gap_us
from booth.judge.track import Stretch, stretches
from booth.times import duration_text

COVERAGE = 0.95


@dataclass(frozen=True)
class Pieces:
    """What is known of each piece of a span, as masks. Beyond is certain, possible includes it and the unknown."""

    edges: np.ndarray
    beyond: np.ndarray
    possible: np.ndarray
    known: np.ndarray
    applicable: np.ndarray  # False where the requirement says nothing


@dataclass(frozen=True)
class Weight:
    verdict: Verdict
    why: str  # what stands in the way, where it is unproven
    coverage: float
    largest_gap_us: int


def weigh(
    pieces: Pieces,
    found: Sequence[Stretch],
    grace_us: int,
    coverage_floor: float | None = None,
    largest_gap_us: int | None = None,
) -> Weight:
    """The verdict on a span whose certain excursions are `found`; None takes the default that scales with the span."""
    lengths = np.diff(pieces.edges)
    total = int(lengths[pieces.applicable].sum())
    unknown = pieces.applicable & ~pieces.known
    coverage = 1 - int(lengths[unknown].sum()) / total if total else 0.0
    largest = max((gap.length for gap in stretches(pieces.edges, unknown)), default=0)
    if any(stretch.length > grace_us for stretch in found):
        return Weight(Verdict.MISSED, "", coverage, largest)
    bearable = bearable_gap_us(total) if largest_gap_us is None else largest_gap_us
    floor = COVERAGE if coverage_floor is None else coverage_floor
    doubtful = max(stretches(pieces.edges, pieces.possible & pieces.applicable), key=lambda one: one.length, default=None)
    why = ""
    if not total:
        why = "nothing was measured"
    elif largest > bearable:
        why = f"no usable reading for {duration_text(largest)}"
    elif coverage < floor:
        why = f"readings cover only {100 * coverage:.0f} % of the step"
    elif doubtful is not None and doubtful.length > grace_us:
        why = f"{_doubt(pieces, doubtful)} for {duration_text(doubtful.length)}"
    return Weight(Verdict.UNPROVEN if why else Verdict.MET, why, coverage, largest)


def sustained(edges: np.ndarray, excess: np.ndarray, grace_us: int) -> float:
    """By how much the limit was exceeded for longer than the grace; negative where it was kept.

    It decides, and not the worst reading: what is tolerated for less than the grace is no miss. `excess` of each piece, -inf
    where nothing is known.
    """
    levels = np.unique(excess[np.isfinite(excess)])
    first, last = 0, len(levels) - 1
    while first < last:
        middle = (first + last) // 2
        longest = max((one.length for one in stretches(edges, excess > levels[middle])), default=0)
        first, last = (middle + 1, last) if longest > grace_us else (first, middle)
    return float(levels[first]) if len(levels) else -np.inf


def _doubt(pieces: Pieces, stretch: Stretch) -> str:
    """What is wrong with a stretch that may have been beyond the limit."""
    own = slice(*np.searchsorted(pieces.edges, (stretch.start, stretch.end)).tolist())
    known, beyond = pieces.known[own], pieces.beyond[own]
    if (known & ~beyond).any():
        return "within the measurement uncertainty of the limit"
    return "out of its limit or without a usable reading" if beyond.any() else "no usable reading"
