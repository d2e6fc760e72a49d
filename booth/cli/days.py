"""A period on the command line: days of the site, or moments."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from booth.cli.app import UsageError


def beginning(text: str, zone: ZoneInfo) -> int:
    """The midnight that a day begins with in the site's zone, or the moment that is written out."""
    return _midnight(text, zone, 0)


def ending(text: str, zone: ZoneInfo) -> int:
    """The midnight that a day ends with, so that the day is in it, or the moment that is written out."""
    return _midnight(text, zone, 1)


def _midnight(text: str, zone: ZoneInfo, later: int) -> int:
    from booth.times import from_datetime, parse_time

    if not re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return parse_time(text)
    try:
        day = date.fromisoformat(text) + timedelta(days=later)
    except ValueError:
        raise UsageError(f"{text} is not a day; write for example 2026-07-13") from None
    return from_datetime(datetime.combine(day, time(), zone))
