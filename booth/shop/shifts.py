"""When the site's shifts begin: each lasts until the next one, so that no minute of a day is in none or in two."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, Field

from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Name


def _clock(value: str) -> str:
    if not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", value):
        raise expected(f"{value!r} is not a time of day", '"06:00"')
    return value


class Shift(Model):
    """`start` is a wall-clock time in the site's zone."""

    name: Name = Field(examples=['"day"'])
    start: Annotated[str, AfterValidator(_clock)] = Field(examples=['"06:00"'])

    @property
    def minutes(self) -> int:
        """Since midnight, on the clock on the wall."""
        hours, minutes = self.start.split(":")
        return 60 * int(hours) + int(minutes)


def each_begins_once(shifts: tuple[Shift, ...]) -> tuple[Shift, ...]:
    """In the order of their beginning; two can't begin at once."""
    starts = [shift.start for shift in shifts]
    for start in starts:
        if starts.count(start) > 1:
            raise expected(f"two shifts begin at {start}", "each shift its own beginning")
    return tuple(sorted(shifts, key=lambda shift: shift.minutes))
