"""The envelope of an event: who did what when, under which id. What each kind needs besides is the shop's business."""

from __future__ import annotations

import re

from booth.readers.moments import moment, not_in_the_future
from booth.readers.points import PointMap
from booth.readers.received import EventIn
from booth.readers.refused import Refused, quoted
from booth.shop.event_shapes import EVENTS
from booth.shop.events import BY_PEOPLE_ONLY

_UUID = re.compile(r"[0-9a-f]{8}-([0-9a-f]{4}-){3}[0-9a-f]{12}")
_DEEPEST = 8
_LARGEST_INTEGER = 2**53 - 1  # RFC 8785 writes numbers as IEEE doubles


def event_in(document: object, booth: str, arrived: int, shop: PointMap, origin: str, *, decisions: bool) -> EventIn:
    """An event out of parsed JSON. Raises Refused: bad_event, bad_time, future_time, event_not_by_mqtt.

    `decisions`: whether concession, release and correction may come this way.
    """
    if not isinstance(document, dict):
        raise _bad(document, "an object with id, event, time and by")
    name = document.get("event")
    if not isinstance(name, str) or name not in EVENTS:
        raise _bad(name, f"`event` to be one of {', '.join(sorted(EVENTS))}")
    # A broker knows a client, not a person: what releases a van or changes the facts needs someone who is signed in.
    if name in BY_PEOPLE_ONLY and not decisions:
        raise Refused(
            "event_not_by_mqtt",
            f"a {name} came over MQTT, where nobody is signed in; expected from `booth event {name}`: enter it there",
        )
    _check_envelope(document, name)
    time = moment(document["time"], "rfc3339") if "time" in document else _no_time(name)
    not_in_the_future(time, arrived, shop.future_tolerance_us, document["time"])
    problem = shop.check_event({"booth": booth} | document) if shop.check_event else None
    if problem:
        raise Refused("bad_event", problem.rstrip("."))
    return EventIn(booth, document | {"id": document["id"].lower()}, time, arrived, origin)


def _check_envelope(document: dict, name: str) -> None:
    identity, by = document.get("id"), document.get("by")
    if not isinstance(identity, str) or not _UUID.fullmatch(identity.lower()):
        raise _bad(identity, f"`id` of a {name} to be a UUID, a new one for each event, the same one when it is sent again")
    if not isinstance(by, str) or not by.strip():
        raise _bad(by, f"`by` of a {name} to say who did it, for example badge-17")
    _check_writable(document, _DEEPEST)


def _check_writable(value: object, depth: int) -> None:
    """The journal hashes RFC 8785 bytes, which can hold neither infinities nor huge integers nor half characters."""
    if depth == 0:
        raise _bad("lists in lists in lists", f"at most {_DEEPEST} levels")
    if isinstance(value, (dict, list)):
        for each in [*value, *value.values()] if isinstance(value, dict) else value:
            _check_writable(each, depth - 1)
    elif isinstance(value, str):
        if any("\ud800" <= character <= "\udfff" for character in value):
            raise _bad(value, "whole characters (no single surrogates)")
    elif isinstance(value, (int, float)) and not abs(value) <= _LARGEST_INTEGER:
        raise _bad(value, "numbers up to 2^53 − 1")


def _no_time(name: str) -> int:
    raise Refused("bad_time", f"a {name} without `time`; expected for example 2026-03-02T08:14:05.250Z")


def _bad(value: object, expected: str) -> Refused:
    return Refused("bad_event", f"{quoted(value)} came; expected {expected}")
