"""Readings and journal entries as InfluxDB line protocol, pure. docs/mirror.md describes the same for the dashboards' owner.

Numbers are always written as floats: a field that was once an integer refuses every 7.5 that comes later. Names of people aren't
sent at all. A line that is sent again overwrites itself, since measurement, tags and time are its identity.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from booth.alarms.states import STANDING, State
from booth.mirror.settings import Settings
from booth.store import Entry, Reading
from booth.times import format_time, parse_time

READING, FINDING, ALARM, PROBE = "booth_reading", "booth_finding", "booth_alarm", "booth_mirror"
KINDS = ("finding", "alarm")
"""Kinds of journal entries that are mirrored."""

_NS = 1000  # in a microsecond


def reading_lines(settings: Settings, readings: Sequence[Reading]) -> list[str]:
    """Lines of all readings of one point and one time, in the order in which they were stored.

    Usually one. Contradicting values are all marked so, and numbered by a tag of their own, or they would overwrite each other.
    """
    lines = []
    for ordinal, reading in enumerate(readings):
        booth, _, point = reading.point.partition("/")
        tags = {"site": settings.site, "booth": booth, "point": point, **settings.points.get(reading.point, {})}
        if ordinal:
            tags["contradiction"] = str(ordinal)
        fields = {
            "value": float(reading.value),
            "sent": f"{reading.sent} {reading.unit}".strip(),
            "quality": reading.quality if len(readings) == 1 else "conflict",
        }
        lines.append(_line(READING, tags, fields, reading.time * _NS))
    return lines


def entry_lines(settings: Settings, entry: Entry) -> list[str]:
    """Lines of a journal entry of one of KINDS. Raises AttributeError, KeyError, TypeError or ValueError for a strange body."""
    return _finding_lines(settings, entry) if entry.kind == "finding" else [_alarm_line(settings, entry)]


def probe_line(settings: Settings, now: int) -> str:
    """A line with nothing that a server could object to."""
    return _line(PROBE, {"site": settings.site}, {"alive": 1.0}, now * _NS)


def _finding_lines(settings: Settings, entry: Entry) -> list[str]:
    body = entry.body
    tags = {"site": settings.site, "booth": next(iter(body["points"]), "").partition("/")[0], "step": body["step"]}
    about = {"vehicle": body["vehicle"], "round": float(body["round"]), "recorded": format_time(entry.recorded)}
    return [
        _line(
            FINDING,
            tags | {"requirement": finding["requirement"], "verdict": finding["verdict"]},
            about | {"missed": float(finding["verdict"] == "missed"), "sentence": finding["sentence"]},
            _apart(parse_time(body["end"]), entry.seq),
        )
        for finding in body["findings"]
    ]


def _alarm_line(settings: Settings, entry: Entry) -> str:
    body, condition = entry.body, entry.body["condition"]
    tags = {
        "site": settings.site,
        "booth": condition["booth"],
        "step": condition["step"] or "",
        "priority": condition["priority"],
        "state": body["to"],
    }
    fields = {
        "alarm": body["alarm"],
        "vehicle": condition["vehicle"] or "",
        "cause": body["cause"],
        "sentence": condition["sentence"],
        "standing": float(State(body["to"]) in STANDING),
    }
    return _line(ALARM, tags, fields, _apart(parse_time(body["at"]), entry.seq))


def _apart(time: int, seq: int) -> int:
    """Nanoseconds. Two vans of one load end a step at the same microsecond; the entry's number keeps them apart, for a vehicle as
    a tag would make a new series for each van."""
    return time * _NS + seq % _NS


def _line(measurement: str, tags: Mapping[str, str], fields: Mapping[str, float | str], time_ns: int) -> str:
    from influxdb_client import Point

    point = Point(measurement).time(time_ns)
    for name, text in tags.items():
        if text:
            point.tag(name, text.replace("\\", "/"))  # a backslash before the next tag would swallow its comma
    for name, value in fields.items():
        point.field(name, value if isinstance(value, float) else " ".join(value.splitlines()))
    return point.to_line_protocol()
