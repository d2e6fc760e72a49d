"""A span of time cut into the site's days and shifts, by the clock on the wall: a day of a clock change has 23 or 25 hours."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from booth.shop.shifts import Shift
from booth.times import from_datetime, to_datetime


@dataclass(frozen=True)
class Period:
    """[start, end) of one shift, under the day on which the shift began; `shift` is None where the site has none."""

    day: date
    shift: str | None
    start: int
    end: int


def periods(start: int, end: int, zone: ZoneInfo, shifts: tuple[Shift, ...] = ()) -> list[Period]:
    """Every shift, or day, that has a part of [start, end), cut to it, in order."""
    if end <= start:
        return []
    first = to_datetime(start, zone).date() - timedelta(days=1)  # a night shift began the day before
    last = to_datetime(end, zone).date() + timedelta(days=1)
    begins = [one for day in _days(first, last) for one in _begins(day, zone, shifts)]
    found = []
    for (moment, day, shift), (following, _, _) in zip(begins, begins[1:], strict=False):
        if moment < end and following > start:
            found.append(Period(day, shift, max(moment, start), min(following, end)))
    return found


def _days(first: date, last: date) -> Iterator[date]:
    while first <= last:
        yield first
        first += timedelta(days=1)


def _begins(day: date, zone: ZoneInfo, shifts: tuple[Shift, ...]) -> Iterator[tuple[int, date, str | None]]:
    clocks = [(shift.minutes, shift.name) for shift in shifts] or [(0, None)]
    for minutes, name in clocks:
        moment = datetime.combine(day, time(minutes // 60, minutes % 60), zone)
        yield from_datetime(moment), day, name


def months_until(end: int, zone: ZoneInfo, number: int) -> list[tuple[str, int, int]]:
    """The last months up to a moment, the one that it is in last: (`2026-07`, start, end), the latest one cut at the moment."""
    year, month = to_datetime(end - 1, zone).year, to_datetime(end - 1, zone).month
    firsts = []
    for back in range(number, -2, -1):
        count = year * 12 + month - 1 - back + 1
        firsts.append(date(count // 12, count % 12 + 1, 1))
    moments = [from_datetime(datetime.combine(first, time(), zone)) for first in firsts]
    found = [(f"{day:%Y-%m}", begin, min(past, end)) for day, begin, past in zip(firsts, moments, moments[1:], strict=False)]
    return [one for one in found if one[1] < end][-number:]
