"""Moments on the desk's pages: in the site's zone, and what people type into a date field back into microseconds.

In the hour that a clock change repeats, 01:30 is two moments; both then say their offset.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from booth.reports.words import offset_words
from booth.times import from_datetime, parse_time, to_datetime


class MomentError(ValueError):
    """A text in a date field that is no date, in a sentence for whoever typed it."""


@dataclass(frozen=True)
class Moments:
    """The site's wall clock, seen from `now` (microseconds UTC)."""

    zone: ZoneInfo
    now: int

    def at(self, moment: int | str | None, seconds: bool = False) -> str:
        """`14:00`, or `13 Jul 14:00` where it was another day, with the year where it was another year's."""
        if moment is None:
            return "–"
        then, today = self.local(moment), to_datetime(self.now, self.zone)
        words = f"{then:%H:%M:%S}" if seconds else f"{then:%H:%M}"
        if ambiguous(then):
            words += f" {offset_words(then.utcoffset() or timedelta(0))}"
        return words if then.date() == today.date() else f"{self.day(moment)} {words}"

    def day(self, moment: int | str) -> str:
        """`13 Jul`, with the year where it isn't this one."""
        then = self.local(moment)
        this_year = then.year == to_datetime(self.now, self.zone).year
        return f"{then.day} {then:%b}" if this_year else f"{then.day} {then:%b %Y}"

    def full(self, moment: int | str) -> str:
        """`2026-07-13 14:00`, for what is printed and kept."""
        then = self.local(moment)
        told = f" {offset_words(then.utcoffset() or timedelta(0))}" if ambiguous(then) else ""
        return f"{then:%Y-%m-%d %H:%M}{told}"

    def local(self, moment: int | str) -> datetime:
        return to_datetime(parse_time(moment) if isinstance(moment, str) else moment, self.zone)

    def field(self, moment: int) -> str:
        """What a `datetime-local` field holds."""
        return f"{self.local(moment):%Y-%m-%dT%H:%M}"

    @property
    def sentence(self) -> str:
        """Which clock a page tells, for its head."""
        return f"{self.zone.key}, {offset_words(to_datetime(self.now, self.zone).utcoffset() or timedelta(0))} now"

    def today(self) -> date:
        return to_datetime(self.now, self.zone).date()

    def midnight(self, day: date) -> int:
        """When a day begins; a day of a clock change is 23 or 25 hours long."""
        return from_datetime(datetime.combine(day, time(), self.zone))

    def read(self, text: str) -> int:
        """Of a `datetime-local` field, or of an RFC 3339 time; in a repeated hour the first. Raises MomentError."""
        try:
            moment = datetime.fromisoformat(text)
            _in_years(moment)
        except ValueError:
            raise MomentError(f"{text!r} is not a date and time; write for example {self.field(self.now)}") from None
        return from_datetime(moment if moment.tzinfo else moment.replace(tzinfo=self.zone))


def read_day(text: str) -> date:
    """Of a `date` field. Raises MomentError."""
    try:
        day = date.fromisoformat(text)
        _in_years(day)
    except ValueError:
        raise MomentError(f"{text!r} is not a date; write for example 2026-07-13") from None
    return day


def _in_years(day: date) -> None:
    """No shop has records of other centuries, and no arithmetic on a day near the calendar's ends is to be trusted."""
    if not 1970 <= day.year < 2200:
        raise ValueError(day)


def ambiguous(moment: datetime) -> bool:
    """Whether the wall clock shows this time twice. (In the hour that it leaves out, fold 0 has the smaller offset.)"""
    first, second = (moment.replace(fold=fold).utcoffset() or timedelta(0) for fold in (0, 1))
    return first > second
