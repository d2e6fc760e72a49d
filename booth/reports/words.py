"""How documents say things: verdicts, moments in the site's zone, limits in both unit systems, and texts made harmless.

Nothing here decides anything; it only says what the record says.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from booth.times import SECOND, duration_text, parse_time, to_datetime
from booth.units import KINDS, UnitError, parse, show_both

REDACTED = "redacted"
NONE = "–"

MEANING = {
    "met": "Every requirement of the process is proven by the evidence.",
    "missed": "At least one requirement of the process was not kept.",
    "unproven": "No requirement is shown to be missed, but at least one cannot be shown to be met.",
}

SPAN_SOURCES = {
    "entered": "entered by the people named",
    "signalled": "signalled by the booth",
    "inferred": "inferred from readings: nobody entered it",
    "derived": "derived from the steps before and after",
}


def clean(text: str) -> str:
    """The text with invisible commands made visible: control characters, and those that turn the reading direction around.

    Letters of every script stay as they are. `[U+202E]` in a document shows that somebody wrote it; obeying it would show
    the reader a sentence that nobody wrote.
    """
    return "".join(char if _harmless(char) else codepoint(char) for char in text)


def _harmless(char: str) -> bool:
    if char in "\n\t":
        return True
    return (
        unicodedata.category(char) not in ("Cc", "Cs", "Co", "Cn") and char not in _DIRECTION and char not in "\ufeff\u2028\u2029"
    )


_DIRECTION = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def codepoint(char: str) -> str:
    """A character's Unicode number, for the reader: `[U+202E]`."""
    return f"[U+{ord(char):04X}]"


def clean_all(value: object) -> object:
    """A record with every text in it cleaned, keys included."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, dict):
        return {clean(str(key)): clean_all(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [clean_all(item) for item in value]
    return value


def person(badge: str | None) -> str:
    """Who, or that the name has been taken out."""
    return REDACTED if badge is None else badge or NONE


@dataclass(frozen=True)
class SiteClock:
    """Moments in the site's zone. The offset is named once, so a moment in another one (a clock change) carries its own."""

    zone: ZoneInfo
    day: date
    offset: timedelta

    @classmethod
    def at_site(cls, zone_name: str, reference: str) -> SiteClock:
        zone = ZoneInfo(zone_name)
        moment = to_datetime(parse_time(reference), zone)
        return cls(zone, moment.date(), moment.utcoffset() or timedelta(0))

    def at(self, time: str | None, always_date: bool = False) -> str:
        """`09:42:10`; with the date when it isn't the record's own day."""
        if time is None:
            return NONE
        moment = to_datetime(parse_time(time), self.zone)
        words = f"{moment:%H:%M:%S}"
        if always_date or moment.date() != self.day:
            words = f"{moment:%Y-%m-%d} {words}"
        offset = moment.utcoffset() or timedelta(0)
        return words if offset == self.offset else f"{words} ({offset_words(offset)})"

    def full(self, time: str | None) -> str:
        """`2026-07-13 09:42:10`."""
        return self.at(time, always_date=True)

    def span(self, start: str | None, end: str | None) -> str:
        """`09:12:05 to 09:36:10 (24 min 05 s)`, or what is known of it."""
        if start is None or end is None:
            return f"from {self.at(start)}" if start else f"until {self.at(end)}" if end else "time not known"
        return f"{self.at(start)} to {self.at(end)} ({duration_text(parse_time(end) - parse_time(start))})"

    def sentence(self) -> str:
        """Names the zone and its offset, once for the whole document."""
        return f"{self.zone.key}, {offset_words(self.offset)}; dates are written where they are not {self.day:%Y-%m-%d}."


def offset_words(offset: timedelta) -> str:
    """`UTC−05:00`."""
    minutes = round(offset.total_seconds() / 60)
    return f"UTC{'−' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def lateness(us: int) -> str:
    """`14 min late`, `3 min early`, `on time`."""
    if abs(us) < SECOND:
        return "on time"
    return f"{duration_text(abs(us))} {'late' if us > 0 else 'early'}"


def value_words(value: float | None, quantity: str) -> str:
    """A value in metric with US customary beside it; a plain number where the quantity has no unit of ours."""
    if value is None:
        return NONE
    return show_both(value, quantity) if quantity in KINDS else f"{value:g}".replace("-", "−")


def spread_words(value: float, quantity: str) -> str:
    """A distance between two values of a quantity. That of two temperatures is a difference: 3 K is 5.4 °F of it, not 37 °F."""
    return value_words(abs(value), "temperature_difference" if quantity == "temperature" else quantity)


def limit_words(low: float | None, high: float | None, quantity: str) -> str:
    """`at least 20.0 °C (68.0 °F)`, `20 to 30 …`, or that there is none."""
    if low is not None and high is not None:
        return f"{value_words(low, quantity)} to {value_words(high, quantity)}"
    if low is not None:
        return f"at least {value_words(low, quantity)}"
    return f"at most {value_words(high, quantity)}" if high is not None else "not stated"


def measured_words(text: str | None, quantity: str) -> str:
    """A value as a person wrote it (`62 um`), in both unit systems where it can be read, else as written."""
    if text is None:
        return REDACTED
    try:
        return value_words(parse(text, quantity), quantity)
    except UnitError:
        return text


def margin_words(finding: dict) -> str | None:
    """How far inside or beyond the limit; for a window, how late or early."""
    margin, quantity = finding["margin"], finding["quantity"]
    if margin is None:
        return None
    if margin < 0 and quantity == "duration" and finding["window"]:
        early = finding["low"] is not None and finding["observed"] is not None and finding["observed"] < finding["low"]
        return lateness(round(margin * SECOND) if early else round(-margin * SECOND))
    if quantity == "number":  # a share of the time that a temperature asks for
        return f"{'short by' if margin < 0 else 'margin'} {100 * abs(margin):.0f} %"
    return f"{'beyond by' if margin < 0 else 'margin'} {spread_words(margin, quantity)}"


def counted(number: int, noun: str) -> str:
    """`1 requirement`, `3 requirements`."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def all_findings(record: dict) -> Iterator[tuple[int, str | None, dict]]:
    """Every finding with its round's number and its step's name (None: the round's own)."""
    for round_ in record["rounds"]:
        for finding in round_["findings"]:
            yield round_["round"], None, finding
        for step in round_["steps"]:
            for finding in step["findings"]:
                yield round_["round"], step["step"], finding
