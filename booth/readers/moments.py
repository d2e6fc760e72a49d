"""Times as instruments write them, to microseconds UTC."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from decimal import Decimal

from booth.readers.json_text import Number
from booth.readers.refused import Refused, quoted
from booth.times import SECOND, TimeError, format_time, from_datetime, parse_time, to_datetime

FORMATS = ("rfc3339", "unix_s", "unix_ms")
_LATEST = from_datetime(datetime(9999, 1, 1, tzinfo=UTC))


def moment(value: object, time_format: str) -> int:
    """A moment out of a JSON value, in one of FORMATS. Raises Refused: bad_time."""
    if time_format == "rfc3339":
        try:
            us = parse_time(value)
        except TimeError:
            raise _bad(value, "a time with an offset, for example 2026-03-02T08:14:05.250Z") from None
    else:
        us = _since_1970(value, time_format)
    return _in_range(us, value)


def _since_1970(value: object, time_format: str) -> int:
    unit_us, word = (SECOND, "seconds") if time_format == "unix_s" else (1000, "milliseconds")
    try:
        seconds = float(value) if isinstance(value, Number) else -1.0
    except ValueError:
        seconds = -1.0
    if not 0 <= seconds * unit_us < _LATEST:  # also before Decimal, which would write 1e99999 out
        raise _bad(value, f"a number of {word} since 1970 UTC, for example {1772439245 * SECOND // unit_us}")
    return int(Decimal(value) * unit_us)


def local_moment(text: str, pattern: str, zone: tzinfo | None, fold: int | None) -> int:
    """A moment out of a local time in a strptime pattern. Raises Refused: bad_time.

    An offset in the text (`%z`) decides; else the zone does. The hour that the autumn change repeats stands for two moments:
    `fold` says which (0 first, 1 second), None refuses it. The hour that the spring change skips is always refused.
    """
    try:
        local = datetime.strptime(text, pattern)
    except ValueError:
        raise _bad(text, f"a time in the pattern {pattern!r}") from None
    if local.tzinfo is not None:
        return _in_range(from_datetime(local), text)
    assert zone is not None, "ReplayMap asks for a zone where the pattern has no %z"
    first, second = (_in_range(from_datetime(local.replace(tzinfo=zone, fold=each)), text) for each in (0, 1))
    if first == second:
        return first
    if to_datetime(first, zone).replace(tzinfo=None) != local:
        raise _bad(text, f"a time that exists: in {zone} the clocks were put forward over it")
    if fold is None:
        raise _bad(
            text, f"one moment: in {zone} the clocks were put back and this time came twice; export with an offset, or say fold"
        )
    return (first, second)[fold]


def not_in_the_future(time: int, now: int, tolerance_us: int, sent: object) -> None:
    """Raises Refused future_time. A past time is only late; a future one means that a clock is wrong."""
    if time > now + tolerance_us:
        raise Refused(
            "future_time",
            f"time {quoted(sent)} is {(time - now) / SECOND:.1f} s after its arrival at {format_time(now)}; expected at most "
            f"{tolerance_us / SECOND:g} s after: set the instrument's clock",
        )


def _in_range(us: int, sent: object) -> int:
    if not 0 <= us < _LATEST:
        raise _bad(sent, "a time between 1970 and 9998")
    return us


def _bad(value: object, expected: str) -> Refused:
    return Refused("bad_time", f"time {quoted(value)}; expected {expected}")
