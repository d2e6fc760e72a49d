"""Whether two tellings of when something was done are about the same thing: people press early, late, or for the wrong step."""

from __future__ import annotations

from booth.times import MINUTE

OPEN = 2**62
SHORTEST_US = MINUTE  # common practice, no source


def is_slip(start: int, end: int | None) -> bool:
    """A start and an end pressed one right after the other: it renames nothing that the instruments told of."""
    return end is not None and end - start < SHORTEST_US


def shared_us(start: int, end: int | None, other_start: int, other_end: int | None) -> int:
    """Length of what both cover; an open end reaches for ever."""
    return min(OPEN if end is None else end, OPEN if other_end is None else other_end) - max(start, other_start)


def same_work(start: int, end: int | None, other_start: int, other_end: int | None) -> bool:
    """Whether they share at least half of the shorter one.

    A start pressed late, or an end pressed early, lies inside of what the guns saw; an end pressed after the next coat began only
    touches it.
    """
    shared = shared_us(start, end, other_start, other_end)
    lengths = [(OPEN if one is None else one) - since for since, one in ((start, end), (other_start, other_end))]
    return shared >= 0 and 2 * shared >= min(lengths)
