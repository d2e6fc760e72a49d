"""What the rules about part probes share."""

from __future__ import annotations

from collections.abc import Sequence

from booth.judge.evidence import Part
from booth.judge.judging import bearable_gap_us
from booth.judge.series import Series
from booth.judge.track import hold, longest_gap_us

NO_PROBE = "no part probe was assigned to this van, and no qualified bake stands in for one"


def place_of(part: Part, parts: Sequence[Part]) -> str:
    """The part's zone, with the probe's name where several sit in that zone."""
    shared = sum(one.zone == part.zone for one in parts) > 1
    return f"{part.zone}, {part.point}" if shared else part.zone


def longest_silence_us(series: Series, start: int, end: int) -> int:
    """The longest time that the part was out of sight in [start, end)."""
    return longest_gap_us(hold(series, start, end))


def was_watched(series: Series, start: int, end: int) -> bool:
    """Whether the part was in sight all the way.

    A gap that the span can bear hides nothing here: a body panel has heat capacity, it doesn't jump and come back.
    """
    return end > start and longest_silence_us(series, start, end) <= bearable_gap_us(end - start)


def unprobed(substrates: Sequence[str], parts: Sequence[Part]) -> str:
    """`, but no part probe sat on steel`: fibreglass and steel warm at their own pace, so one can't speak for the other."""
    lacking = [one for one in substrates if all(part.substrate != one for part in parts)]
    return f", but no part probe sat on {' or '.join(lacking)}" if lacking else ""
