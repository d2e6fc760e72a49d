"""A message -> what it turns out to be. A pure function of topic, payload, arrival and configuration that never raises."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from booth.readers.events import event_in
from booth.readers.json_text import NothingThere, follow, parse_json
from booth.readers.measure import measure
from booth.readers.moments import moment, not_in_the_future
from booth.readers.points import STANDARD, PointMap, PointSpec, Shape
from booth.readers.received import EventIn, Outcome, QuarantinedIn, ReadingIn, TickIn
from booth.readers.refused import Refused, quoted

BEACON = "beacon"  # what the logger itself says of a booth; a broker of MQTT 3.1.1 sends it back to us
MAX_PAYLOAD = 64 * 1024  # bytes; a reading has about a hundred
_MOST_TOPICS = 4096  # that are remembered: what is sent decides which they are


class _Message(NamedTuple):
    topic: str
    payload: bytes
    arrived: int
    retained: bool


def decode(
    topic: str, payload: bytes, arrived: int, shop: PointMap, *, retained: bool = False, reader: str = "mqtt"
) -> tuple[Outcome, ...]:
    """What a message says: one outcome, or as many as there are configured topic maps that read this topic.

    `arrived` in microseconds UTC, `reader` names the way in on what is quarantined. Whatever can't be used comes back as
    QuarantinedIn with the reason, never as an exception.
    """
    message = _Message(topic, payload, arrived, retained)
    return tuple([_outcome(way, message, shop, reader) for way in _known_ways(topic, shop)])


_Way = Callable[[_Message, PointMap], Outcome]


def _outcome(way: _Way, message: _Message, shop: PointMap, reader: str) -> Outcome:
    try:
        if len(message.payload) > MAX_PAYLOAD:
            raise Refused(
                "too_large", f"more than {MAX_PAYLOAD} bytes came; expected one reading or one event of at most that many"
            )
        if not message.payload:
            raise Refused("no_value", "the payload is empty; expected a reading or an event as JSON")
        return way(message, shop)
    except Refused as why:
        sentence = f"{quoted(message.topic, 120)}: {why.sentence}."
        payload = message.payload[:MAX_PAYLOAD]
        return QuarantinedIn(message.arrived, reader, _origin(message), why.reason, sentence, payload)


def _known_ways(topic: str, shop: PointMap) -> list[_Way]:
    """As `_ways`, found once for each topic."""
    ways = shop.known_topics.get(topic)
    if ways is None:
        if len(shop.known_topics) >= _MOST_TOPICS:
            shop.known_topics.clear()
        ways = shop.known_topics[topic] = _ways(topic, shop)
    return ways


def _ways(topic: str, shop: PointMap) -> list[_Way]:
    """How to read a topic. A shop's own topic maps come before the standard topics."""
    mapped = [(each.point_of(topic), each.shape) for each in shop.topics]
    own = [partial(_reading, point, shape) for point, shape in mapped if point is not None]
    if own:
        return own
    prefix, _, name = topic.partition("/")
    booth, _, last = name.partition("/")
    if topic == shop.tick_topic:
        return [_tick]
    if prefix != shop.prefix or booth not in shop.booths or "/" in last or not last:
        return [_unknown_topic]
    if last == BEACON:
        return []
    return [partial(_event, booth)] if last == "event" else [partial(_reading, name, STANDARD)]


def _reading(point: str, shape: Shape, message: _Message, shop: PointMap) -> ReadingIn:
    spec = shop.spec(point)
    document = parse_json(message.payload)
    if not isinstance(document, (dict, list)):
        return measure(spec, document, shape.fixed_unit, _stamped(message), message.arrived)
    time = _time(document, shape, message, shop)
    value = _value(document, shape, spec, message.payload)
    return measure(spec, value, _unit(document, shape), time, message.arrived)


def _value(document: object, shape: Shape, spec: PointSpec, payload: bytes) -> object:
    try:
        return follow(document, shape.value)
    except NothingThere:
        raise Refused(
            "no_value",
            f"{spec.point}: no value at {shape.value!r} in {quoted(payload)}; expected one there, or another JSON pointer in "
            "the configuration",
        ) from None


def _unit(document: object, shape: Shape) -> object:
    """The unit in the payload; None (the point's own) where it names none."""
    try:
        return shape.fixed_unit if shape.unit is None else follow(document, shape.unit)
    except NothingThere:
        return shape.fixed_unit


def _time(document: object, shape: Shape, message: _Message, shop: PointMap) -> int:
    if shape.time is None:
        return _stamped(message)
    try:
        sent = follow(document, shape.time)
    except NothingThere:
        raise Refused(
            "bad_time",
            f"no time at {shape.time!r} in {quoted(message.payload)}; expected one there, or send the bare value to have it "
            "stamped at arrival",
        ) from None
    time = moment(sent, shape.time_format)
    not_in_the_future(time, message.arrived, shop.future_tolerance_us, sent)
    return time


def _stamped(message: _Message) -> int:
    """Arrival stands in for the time, unless the broker had kept the message: then it is older, nobody knows by how much."""
    if message.retained:
        raise Refused(
            "retained",
            f"{quoted(message.payload)} was kept by the broker and has no time of its own, so its age is unknown; expected a "
            "live message: send it with a time, or without the retain flag",
        )
    return message.arrived


def _event(booth: str, message: _Message, shop: PointMap) -> EventIn:
    document = parse_json(message.payload, keep_numbers=False)
    return event_in(document, booth, message.arrived, shop, _origin(message), decisions=False)


def _origin(message: _Message) -> str:
    """The topic, in characters that a database can hold."""
    return message.topic.encode("utf-8", "backslashreplace").decode()


def _tick(message: _Message, shop: PointMap) -> TickIn:
    _stamped(message)  # a tick that the broker had kept would turn the clock back
    document = parse_json(message.payload)
    try:
        return TickIn(moment(follow(document, "/time"), "rfc3339"))
    except NothingThere:
        raise Refused("bad_time", 'no time; expected {"time": "2026-03-02T08:14:05.250Z"}') from None


def _unknown_topic(message: _Message, shop: PointMap) -> Outcome:
    raise Refused(
        "unknown_topic",
        f"no booth has this topic; expected {shop.prefix}/<booth>/<point> with a booth of {', '.join(sorted(shop.booths))}: "
        "correct the sender's topic, or add a topic map to the configuration",
    )
