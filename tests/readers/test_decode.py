"""Messages -> readings, events, ticks, or the reason why not."""

from __future__ import annotations

import json
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.readers.decode import MAX_PAYLOAD, decode
from booth.readers.points import Shape, TopicMap
from booth.readers.received import EventIn, Outcome, QuarantinedIn, ReadingIn, TickIn
from booth.readers.refused import REASONS
from booth.shop.event_shapes import EVENTS
from booth.times import SECOND, format_time, parse_time
from tests.readers.points_here import MODES, NOON, shop

AIR = "shop/north/air-temperature"
EVENT = "shop/north/event"
ID = "6f1c2a8e-3b0d-4c57-9a44-0d5b7e2f9c11"
TIME = "2026-07-13T16:59:59.250Z"


def one(topic: str, payload: bytes | str | dict, **given: object) -> Outcome:
    raw = payload if isinstance(payload, bytes) else (payload if isinstance(payload, str) else json.dumps(payload)).encode()
    (outcome,) = decode(topic, raw, NOON, shop(), **given)
    return outcome


def event(**changes: object) -> dict:
    made = {"id": ID, "event": "step-start", "vehicle": "TV-4101", "step": "clear-1", "by": "badge-17", "time": TIME} | changes
    return {key: value for key, value in made.items() if value is not None}


def test_a_reading_keeps_what_was_sent() -> None:
    outcome = one(AIR, f'{{"time": "{TIME}", "value": 21.40, "unit": "degC"}}')
    assert outcome == ReadingIn("north/air-temperature", parse_time(TIME), NOON, "21.40", "degC", 21.4, mapping=3)
    assert type(outcome.sent) is str


def test_another_unit_of_the_same_kind_is_converted() -> None:
    """212 °F is 100 °C by definition; 1 inH2O (4 °C) is 249.08891 Pa, NIST SP 811 table B.8 (from memory)."""
    hot = one(AIR, {"time": TIME, "value": 212, "unit": "degF"})
    assert (hot.sent, hot.unit) == ("212", "degF")
    assert hot.value == pytest.approx(100, abs=1e-9)
    assert one("shop/north/booth-pressure", {"time": TIME, "value": 12.5, "unit": "Pa"}).value == 12.5
    configured = one("shop/north/booth-pressure", {"time": TIME, "value": 0.05})
    assert (configured.unit, configured.value) == ("inH2O", pytest.approx(12.4544455))


def test_a_bare_number_is_stamped_at_arrival_in_the_configured_unit() -> None:
    assert one(AIR, "21.4") == ReadingIn("north/air-temperature", NOON, NOON, "21.4", "degC", 21.4, mapping=3)


def test_a_word_becomes_its_place_in_the_points_words() -> None:
    outcome = one("shop/north/mode", {"time": TIME, "value": "bake", "unit": ""})
    assert (outcome.sent, outcome.unit, outcome.value) == ("bake", "", float(MODES.index("bake")))
    assert one("shop/north/mode", '"spray"').value == 1.0


def test_a_late_reading_is_kept_with_its_own_time() -> None:
    assert one(AIR, {"time": "2026-01-01T00:00:00Z", "value": 20}).time == parse_time("2026-01-01T00:00:00Z")


def test_a_clock_may_be_ahead_by_the_tolerance() -> None:
    ahead = {"time": format_time(NOON + 5 * SECOND), "value": 20}
    assert one(AIR, ahead).time == NOON + 5 * SECOND
    assert one(AIR, ahead | {"time": format_time(NOON + 5 * SECOND + 1)}).reason == "future_time"


def test_a_retained_reading_with_a_time_of_its_own_is_taken() -> None:
    assert one(AIR, {"time": TIME, "value": 20}, retained=True).time == parse_time(TIME)


def test_an_event() -> None:
    outcome = one(EVENT, event(id=ID.upper()))
    assert outcome == EventIn("north", event(), parse_time(TIME), NOON, EVENT)


def test_a_tick() -> None:
    assert one("shop/clock/tick", {"time": TIME}) == TickIn(parse_time(TIME))


@pytest.mark.parametrize("name", sorted(EVENTS))
def test_decisions_need_more_than_a_broker(name: str) -> None:
    outcome = one(EVENT, event(event=name))
    decision = name in ("concession", "release", "correction")
    assert getattr(outcome, "reason", None) == ("event_not_by_mqtt" if decision else None)


def test_what_an_event_kind_needs_is_asked_of_the_shop() -> None:
    checked = shop(check_event=lambda raw: "check needs a result; write passed or failed" if raw["event"] == "check" else None)
    (bad,) = decode(EVENT, json.dumps(event(event="check")).encode(), NOON, checked)
    assert (bad.reason, "needs a result" in bad.sentence) == ("bad_event", True)
    (good,) = decode(EVENT, json.dumps(event()).encode(), NOON, checked)
    assert isinstance(good, EventIn)


# What came, why it is refused, and words that its sentence must have: what came, what was expected, what to do.
REFUSALS = [
    (AIR, b"\xff\xfe21.4", "not_utf8", ["\\xff", "UTF-8"]),
    (AIR, b"warm", "not_json", ["warm", "expected", '"value": 21.4']),
    (AIR, b'{"value": 1, "value": 2}', "not_json", ["key twice"]),
    (AIR, b" " * (MAX_PAYLOAD + 1), "too_large", ["65536", "expected"]),
    (AIR, b"", "no_value", ["empty", "expected"]),
    (AIR, {"time": TIME, "temp": 21.4}, "no_value", ["north/air-temperature", "'/value'", "temp", "pointer"]),
    ("plant/7/temp", b"21.4", "unknown_topic", ["plant/7/temp", "shop/<booth>/<point>", "mix-room, north, south", "topic map"]),
    ("shop/west/humidity", b"1", "unknown_topic", ["shop/west/humidity"]),
    ("shop/north/a/b", b"1", "unknown_topic", ["shop/north/a/b"]),
    ("shop/north", b"1", "unknown_topic", ["shop/north"]),
    ("shop/north/", b"1", "unknown_topic", ["shop/north/"]),
    ("shop/clock/done", b"{}", "unknown_topic", ["shop/clock/done"]),
    ("shop/north/air-temprature", b"21.4", "unknown_point", ["air-temprature", "north/air-temperature", "add the point"]),
    (AIR, b'{"time": "%s", "value": NaN}' % TIME.encode(), "not_a_number", ["'NaN'", "finite number such as 21.4"]),
    (AIR, b"NaN", "not_a_number", ["'NaN'"]),
    (AIR, b"-Infinity", "not_a_number", ["'-Infinity'"]),
    (AIR, b"1e999", "not_a_number", ["1e999"]),
    (AIR, b"1" * 65, "not_a_number", ["1111"]),
    (AIR, b"true", "not_a_number", ["value true"]),
    (AIR, b"null", "not_a_number", ["value null", "send nothing for none"]),
    (AIR, b'"21.4"', "not_a_number", ["'21.4'", "without quotes"]),
    (AIR, {"time": TIME, "value": [21.4]}, "not_a_number", ["21.4"]),
    ("shop/north/mode", b'"paint"', "not_a_number", ["north/mode", "paint", "idle, spray, flash"]),
    ("shop/north/mode", b"1", "not_a_number", ["north/mode", "'1'", "words"]),
    (
        AIR,
        {"time": TIME, "value": 21.4, "unit": "Pa"},
        "wrong_unit",
        ["'Pa'", "'degC'", "unit of temperature", "correct the sender"],
    ),
    (AIR, {"time": TIME, "value": 21.4, "unit": "delta_degC"}, "wrong_unit", ["delta_degC"]),
    (AIR, {"time": TIME, "value": 21.4, "unit": 7}, "wrong_unit", ["'7'"]),
    (AIR, {"time": TIME, "value": 21.4, "unit": ""}, "wrong_unit", ["''"]),
    (AIR, {"time": TIME, "value": 21.4, "unit": "degC*9**9**9"}, "wrong_unit", ["9**9**9"]),
    (AIR, b"120.1", "out_of_range", ["120.1 degC", "-20 to 120 °C", "look at the instrument"]),
    (AIR, {"time": TIME, "value": 250, "unit": "degF"}, "out_of_range", ["250 degF", "-20 to 120 °C"]),
    (AIR, {"value": 21.4}, "bad_time", ["'/time'", "expected", "stamped at arrival"]),
    (AIR, {"time": "13.07.2026 12:00", "value": 21.4}, "bad_time", ["13.07.2026 12:00", "2026-03-02T08:14:05.250Z"]),
    (AIR, {"time": "2026-07-13T12:00:00", "value": 21.4}, "bad_time", ["offset"]),
    (AIR, {"time": "2026-02-30T12:00:00Z", "value": 21.4}, "bad_time", ["2026-02-30"]),
    (AIR, {"time": "1937-01-01T12:00:27.87+00:20", "value": 21.4}, "bad_time", ["between 1970"]),
    (AIR, {"time": 1772439245, "value": 21.4}, "bad_time", ["1772439245"]),
    (AIR, {"time": "2026-07-13T18:00:00Z", "value": 21.4}, "future_time", ["3600.0 s after", "at most 5 s", "clock"]),
    ("shop/clock/tick", b"{}", "bad_time", ["no time", "expected"]),
    (EVENT, b"[]", "bad_event", ["object"]),
    (EVENT, event(event="paint"), "bad_event", ["'paint'", "step-start"]),
    (EVENT, event(event=None), "bad_event", ["null", "step-start"]),
    (EVENT, event(id="17"), "bad_event", ["'17'", "UUID"]),
    (EVENT, event(by=" "), "bad_event", ["by", "badge-17"]),
    (EVENT, event(time=None), "bad_time", ["step-start", "without `time`"]),
    (EVENT, event(time="soon"), "bad_time", ["soon"]),
    (EVENT, event(time="2026-07-13T18:00:00Z"), "future_time", ["3600.0 s"]),
    (EVENT, event(n=2**53), "bad_event", ["9007199254740992", "2^53"]),
    (EVENT, event(text="\ud800"), "bad_event", ["surrogate"]),
    (EVENT, event(deep=[[[[[[[[1]]]]]]]]), "bad_event", ["levels"]),
    (EVENT, b'{"n": NaN}', "not_json", ["NaN"]),
    (EVENT, event(event="release"), "event_not_by_mqtt", ["release", "signed in", "booth event release"]),
]


@pytest.mark.parametrize(
    ("topic", "payload", "reason", "words"), REFUSALS, ids=[f"{row[2]}-{i}" for i, row in enumerate(REFUSALS)]
)
def test_refused_with_a_sentence(topic: str, payload: bytes | dict, reason: str, words: list[str]) -> None:
    outcome = one(topic, payload)
    assert isinstance(outcome, QuarantinedIn)
    assert (outcome.reason, outcome.origin, outcome.reader, outcome.arrived) == (reason, topic, "mqtt", NOON)
    assert [word for word in words if word not in outcome.sentence] == []
    assert repr(topic) in outcome.sentence
    assert "\n" not in outcome.sentence and len(outcome.sentence) < 600


@pytest.mark.parametrize(("topic", "payload"), [(AIR, b"21.4"), ("shop/clock/tick", b'{"time": "%s"}' % TIME.encode())])
def test_retained_without_a_time_is_refused(topic: str, payload: bytes) -> None:
    outcome = one(topic, payload, retained=True)
    assert outcome.reason == "retained"
    assert "age is unknown" in outcome.sentence and "without the retain flag" in outcome.sentence


def test_every_reason_is_tested() -> None:
    elsewhere = {"retained", "bad_row"}  # above, and in test_replay.py
    assert {row[2] for row in REFUSALS} | elsewhere == set(REASONS)


def test_one_message_with_several_values() -> None:
    """A plant's own topic: RFC 6901 pointers, times in milliseconds, the booth out of the topic."""
    nested = {"time": "/t", "unit": None, "time_format": "unix_ms"}
    maps = (
        TopicMap("plc/+/climate", "{1}/air-temperature", Shape(value="/data/0", fixed_unit="degF", **nested)),
        TopicMap("plc/+/climate", "{1}/humidity", Shape(value="/data/1", **nested)),
        TopicMap("plc/#", "north/mode", Shape(value="/mode", **nested)),
    )
    payload = b'{"t": 1783961999250.5, "data": [68.0, 55], "mode": "flash"}'
    first, second, third = decode("plc/north/climate", payload, NOON, shop(topics=maps))
    moment = 1783961999250_500
    assert first == ReadingIn("north/air-temperature", moment, NOON, "68.0", "degF", pytest.approx(20, abs=1e-9), mapping=3)
    assert (second.sent, second.unit, second.time) == ("55", "percent", moment)
    assert (third.sent, third.value) == ("flash", 2.0)
    south = decode("plc/south/climate", payload, NOON, shop(topics=maps))
    assert [getattr(each, "reason", "used") for each in south] == ["used", "unknown_point", "used"]


@pytest.mark.parametrize(
    ("text", "time_format", "expected"),
    [
        ("1783961999.250001", "unix_s", 1783961999_250001),
        ("1.7839619992500e12", "unix_ms", 1783961999_250000),
        ("1e99999999", "unix_s", None),
        ("-1", "unix_s", None),
        ('"1783961999"', "unix_s", None),
        ("NaN", "unix_ms", None),
    ],
)
def test_seconds_since_1970_are_exact_to_the_microsecond(text: str, time_format: str, expected: int | None) -> None:
    own = TopicMap("t", "north/humidity", Shape(time="/t", time_format=time_format))
    (outcome,) = decode("t", f'{{"t": {text}, "value": 5}}'.encode(), NOON, shop(topics=(own,)))
    assert getattr(outcome, "time", None) == expected
    assert isinstance(outcome, ReadingIn) or outcome.reason == "bad_time"


@pytest.mark.parametrize(
    ("filter", "topic", "matches"),
    [  # MQTT 5.0 sections 4.7.1 and 4.7.2, its own examples
        ("sport/tennis/player1/#", "sport/tennis/player1", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/ranking", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", True),
        ("sport/#", "sport", True),
        ("#", "sport/tennis", True),
        ("sport/tennis/+", "sport/tennis/player1", True),
        ("sport/tennis/+", "sport/tennis/player1/ranking", False),
        ("sport/+", "sport", False),
        ("sport/+", "sport/", True),
        ("+/+", "/finance", True),
        ("/+", "/finance", True),
        ("+", "/finance", False),
        ("#", "$SYS/monitor/Clients", False),
        ("+/monitor/Clients", "$SYS/monitor/Clients", False),
        ("$SYS/#", "$SYS/monitor/Clients", True),
        ("$SYS/monitor/+", "$SYS/monitor/Clients", True),
    ],
)
def test_topic_filters_as_in_the_standard(filter: str, topic: str, matches: bool) -> None:
    assert (TopicMap(filter, "north/humidity").point_of(topic) is not None) == matches


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["time", "value", "unit", "id", "event"]), inner),
    max_leaves=6,
)
readings = st.fixed_dictionaries(
    {"time": st.sampled_from([TIME, "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:60-14:00", ""]) | st.text(max_size=30)},
    optional={
        "value": json_values,
        "unit": st.sampled_from(["degC", "degF", "K", "%", "°C", "Pa**9", "m/0"]) | st.text(max_size=9),
    },
)
events = st.builds(
    lambda changes, more: event(**changes) | more,
    st.dictionaries(st.sampled_from(["id", "event", "by", "time"]), json_values),
    st.dictionaries(st.text(max_size=5), json_values, max_size=2),
)
topics = (
    st.sampled_from([AIR, "shop/north/mode", EVENT, "shop/clock/tick"])
    | st.text(max_size=20)
    | st.builds("shop/{}/{}".format, st.text(max_size=5), st.text(max_size=5))
)
payloads = st.binary(max_size=60) | (json_values | readings | events).map(lambda value: json.dumps(value).encode())


@settings(max_examples=5000, deadline=None)
@given(topics, payloads, st.booleans())
def test_whatever_comes_has_exactly_one_outcome(topic: str, payload: bytes, retained: bool) -> None:
    (outcome,) = decode(topic, payload, NOON, shop(), retained=retained)
    assert isinstance(outcome, (ReadingIn, EventIn, TickIn, QuarantinedIn))
    if isinstance(outcome, QuarantinedIn):
        assert outcome.reason in REASONS
        assert outcome.sentence.isprintable()
        assert outcome.origin.encode().decode() == outcome.origin  # a database can hold it
        assert outcome.payload == payload
    if isinstance(outcome, ReadingIn):
        assert 0 <= outcome.time <= NOON + 5 * SECOND


def test_flipped_bytes_add_up() -> None:
    """5,000 good messages with one byte changed: each is one outcome, and the counts of outcomes add up to 5,000."""
    good = [(AIR, json.dumps({"time": TIME, "value": 21.4, "unit": "degC"})), (EVENT, json.dumps(event())), (AIR, "21.4")]
    counts: Counter[str] = Counter()
    for number in range(5000):
        topic, text = good[number % 3]
        raw = bytearray(text.encode())
        raw[(number * 7919) % len(raw)] = (number * 104_729 >> 3) % 256
        counts.update(type(each).__name__ for each in decode(topic, bytes(raw), NOON, shop()))
    assert sum(counts.values()) == 5000
    assert counts["QuarantinedIn"] > 500 and counts["ReadingIn"] > 100 and counts["EventIn"] > 100
