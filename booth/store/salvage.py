"""Reading hot rows around damaged pages: an hour that can't be read costs its own readings and no others."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from booth.store.chunk import hour_of
from booth.store.database import StoreError
from booth.times import DAY, HOUR

LONGEST_US = 20 * 366 * DAY  # hour by hour through more than that is for nobody
Part = TypeVar("Part")


def by_hours(read: Callable[[int, int], Part], start: int, end: int, lose: Callable[[int, str], None]) -> list[Part]:
    """What `read(start, end)` gives at one go; where pages are damaged, what it gives hour by hour, and `lose(hour, why)`.

    Raises StoreError for whatever else is wrong.
    """
    try:
        return [read(start, end)]
    except StoreError as problem:
        if not can_salvage(problem, start, end):
            raise
    found = []
    for hour in range(hour_of(start), end, HOUR):
        try:
            found.append(read(max(start, hour), min(end, hour + HOUR)))
        except StoreError as problem:
            if not problem.damaged:
                raise
            lose(hour, str(problem))
    return found


def can_salvage(problem: StoreError, start: int, end: int) -> bool:
    return problem.damaged and end - start <= LONGEST_US
