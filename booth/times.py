"""Moments: whole microseconds since 1970-01-01 UTC inside, RFC 3339 with an offset outside.

Integers make equality exact and ordering cheap; the site's time zone appears only where people read.
"""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta, tzinfo

SECOND = 1_000_000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
DAY = 24 * HOUR
"""Of the clock's hours; a day on the wall has 23 or 25 where the clock is changed."""

DAYS_FROM_H = 72  # nobody counts in hours any more

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_RFC3339 = re.compile(r"(\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:)(\d\d)(\.\d+)?([Zz]|[+-]\d\d:\d\d)")


class TimeError(ValueError):
    """A text that is not one unambiguous moment."""


def parse_time(text: str) -> int:
    """Microseconds UTC of an RFC 3339 date-time; digits below a microsecond are dropped.

    Raises TimeError when the text isn't RFC 3339, has no offset, or names no real moment (RFC 3339 section 5.6;
    a leap second is read as the second after it, since the microsecond count has no place for it).
    """
    match = _RFC3339.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise TimeError(f"{text!r} is not an RFC 3339 time with an offset; write for example 2026-03-02T08:14:05.250Z")
    minute, second, fraction, offset = match.groups(default="")
    leap = second == "60"
    try:  # fromisoformat takes at most six digits
        moment = datetime.fromisoformat(f"{minute}{'59' if leap else second}{fraction[:7]}{offset.upper()}")
    except ValueError as problem:
        raise TimeError(f"{text!r} names no real moment ({problem}); write for example 2026-03-02T08:14:05.250Z") from None
    return from_datetime(moment) + (SECOND if leap else 0)


def from_datetime(moment: datetime) -> int:
    """Microseconds UTC of an aware datetime."""
    return (moment - _EPOCH) // timedelta(microseconds=1)


def to_datetime(us: int, zone: tzinfo = UTC) -> datetime:
    """An aware datetime in `zone`."""
    return (_EPOCH + timedelta(microseconds=us)).astimezone(zone)


def format_time(us: int, zone: tzinfo = UTC) -> str:
    """RFC 3339: three decimals, or six where the moment needs them; `Z` for UTC."""
    moment = to_datetime(us, zone)
    text = moment.isoformat(timespec="milliseconds" if us % 1000 == 0 else "microseconds")
    return text.replace("+00:00", "Z") if zone is UTC else text


def clock(us: int, zone: tzinfo, seconds: bool = False) -> str:
    """Wall clock for people: 09:42, or 09:42:10; in the hour that comes twice in autumn, 01:30 CDT and 01:30 CST."""
    moment = to_datetime(us, zone)
    words = moment.strftime("%H:%M:%S" if seconds else "%H:%M")
    comes_twice = moment.replace(fold=1 - moment.fold).utcoffset() != moment.utcoffset()
    return f"{words} {moment:%Z}" if comes_twice else words


def give_or_take(sooner_s: float | None, later_s: float | None) -> str:
    """How sure a moment ahead is, for people: `± 2 min`, `1 min sooner to 4 min later`; nothing for less than half a minute.

    `later_s` is None where it may never come, which is always said, and `sooner_s` where nobody knows.
    """
    if sooner_s is None or (later_s is not None and max(sooner_s, later_s) < 30):
        return ""
    sooner = math.ceil(sooner_s / 60)
    if later_s is None:
        return "or much later" if sooner_s < 30 else f"{sooner} min sooner, or much later"
    later = math.ceil(later_s / 60)
    return f"± {later} min" if sooner == later else f"{sooner} min sooner to {later} min later"


def duration_text(us: int) -> str:
    """A length of time for people: `48 s`, `12 min 05 s`, `3 h 10 min`, `5 days 02 h`."""
    total = round(abs(us) / SECOND)
    sign = "−" if us < 0 and total else ""
    hours, rest = divmod(total, 3600)
    minutes, seconds = divmod(rest, 60)
    if hours >= DAYS_FROM_H:
        return f"{sign}{hours // 24} days {hours % 24:02d} h"
    if hours:
        return f"{sign}{hours} h {minutes:02d} min"
    if minutes:
        return f"{sign}{minutes} min {seconds:02d} s" if seconds else f"{sign}{minutes} min"
    return f"{sign}{seconds} s"
