"""How the ventilation log says its figures: small helpers that every section shares."""

from __future__ import annotations

from booth.reports.words import NONE, SiteClock, value_words
from booth.times import duration_text


def length(seconds: float | None) -> str:
    """`2 h 16 min`, or that it isn't known."""
    return NONE if seconds is None else duration_text(round(seconds * 1e6))


def share(value: float | None) -> str:
    return NONE if value is None else f"{100 * value:.1f} %"


def figure(told: dict | None, kind: str, key: str = "mean") -> str:
    """One figure of a measure; a dash where nothing was read or nothing measures it."""
    return NONE if told is None or told.get(key) is None else value_words(told[key], kind)


def day_and_shift(row: dict) -> str:
    return f"{row['day']}{' ' + row['shift'] if row['shift'] else ''}"


def from_to(row: dict, clock: SiteClock) -> str:
    """`07-13 06:11:10 to 06:11:25`: the date once."""
    first, last = row["from"], row["to"]
    begin = clock.full(first)
    if last is None:
        return f"{begin}, still so"
    end = clock.full(last)
    return f"{begin} to {end[11:] if end[:10] == begin[:10] else end}"


def dated(text: str | None, clock: SiteClock) -> str:
    """The day alone, for what nobody plans to the minute."""
    return NONE if text is None else clock.full(text)[:10]
