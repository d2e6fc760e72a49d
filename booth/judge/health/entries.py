"""A fault in the journal's words: the body of a `health` entry, and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from booth.judge.health.faults import WORDS
from booth.judge.health.spans import Interval
from booth.times import SECOND, format_time, parse_time


def interval_body(interval: Interval) -> dict[str, Any]:
    """Times RFC 3339, `end` null while it lasts; `offset_s` of a clock that is off."""
    ends = {name: getattr(interval, name) for name in ("start", "end", "certain")}
    body = {"point": interval.point, "fault": interval.fault}
    body |= {name: None if us is None else format_time(us) for name, us in ends.items()}
    if interval.offset_us is not None:
        body["offset_s"] = interval.offset_us / SECOND
    return body | {"withdrawn": interval.withdrawn, "sentence": _sentence(interval)}


def read_interval(body: Mapping[str, Any]) -> Interval:
    """The interval that interval_body wrote."""
    end, offset = body["end"], body.get("offset_s")
    return Interval(
        body["point"],
        body["fault"],
        parse_time(body["start"]),
        None if end is None else parse_time(end),
        parse_time(body["certain"]),
        None if offset is None else round(offset * SECOND),
        body["withdrawn"],
    )


def told(interval: Interval) -> dict[str, Any]:
    """A fault for people and screens; `start` null where it is in doubt since ever."""
    return {
        "point": interval.point,
        "fault": interval.fault,
        "start": format_time(interval.start) if interval.start else None,
        "end": None if interval.end is None else format_time(interval.end),
        "sentence": _sentence(interval),
    }


def entry_id(interval: Interval) -> str:
    """The same for the same piece of news, whoever writes it down and however often."""
    name = f"booth/health/{interval.point}/{interval.fault}/{interval.start}/{interval.entries}"
    return str(uuid5(NAMESPACE_URL, name))


def _sentence(interval: Interval) -> str:
    if interval.withdrawn:
        return f"That {interval.point} {WORDS[interval.fault]} is withdrawn: later readings show otherwise"
    offset = "" if interval.offset_us is None else f" by {interval.offset_us / SECOND:+.0f} s (arrival less its own time)"
    begin = f"from {format_time(interval.start)}" if interval.start else "since ever"
    since = f"{interval.point} {WORDS[interval.fault]}{offset} {begin}"
    return since if interval.end is None else f"{since} to {format_time(interval.end)}"
