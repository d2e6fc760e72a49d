"""A hundred thousand fuzzed messages through decoding and intake into a real store: each is kept, or quarantined, or known.

hypothesis makes messages of every shape that an instrument, a scanner or a mistake could send; a mutator then breaks the bytes of
valid ones. The live judge looks at what came through, again and again.
"""

from __future__ import annotations

import json
import logging
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from booth.clocks import TickClock
from booth.logger import Logger
from booth.readers.points import PointMap, Shape, TopicMap
from booth.readers.received import Received, TickIn
from booth.store import Store
from booth.times import HOUR, SECOND, format_time
from tests.app.plants import demo_shop
from tests.faults.plant import STORY_ENDS, story

NOW = STORY_ENDS
COUNT = 100_000
SEED = 20260713
AT_ONCE = 500
LOOK_EVERY = 40  # batches

moments = st.one_of(
    st.integers(-90, 2).map(lambda second: format_time(NOW + second * SECOND)),
    st.datetimes().map(lambda moment: moment.isoformat() + "Z"),
    st.sampled_from(["2026-07-13", "now", "", 0, -1, 1e308, None, True, format_time(NOW + HOUR), "2026-02-30T00:00:00Z"]),
)
leaves = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(),
    st.integers(-(10**400), 10**400),
    st.text(max_size=12),
    st.sampled_from(["bake", "spray", "\ud800", "\x00"]),
)
json_values = st.recursive(
    leaves, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3), max_leaves=6
)
units = st.sampled_from(["degC", "degF", "percent", "m/s", "Pa", "", "furlong", "9**9**9", 3, None, "%", "°C"])
readings = st.fixed_dictionaries({}, optional={"time": moments, "value": st.floats(-50, 150) | json_values, "unit": units})
words = st.one_of(
    st.sampled_from(["TV-4102", "clear-1", "sealer", "M-101", "pot-1", "passed", "epoxy-sealer", "gun-1", ""]), json_values
)
kinds = [
    "load",
    "step-start",
    "step-end",
    "note",
    "mix",
    "check",
    "release",
    "acknowledge",
    "shelve",
    "film",
    "calibration",
    "hold",
    "job-open",
]
events = st.fixed_dictionaries(
    {"event": st.sampled_from([*kinds, "nonsense"])},
    optional={
        "id": st.uuids().map(str) | json_values,
        "time": moments,
        "by": st.sampled_from(["badge-17", "", 3]),
        **{
            name: words
            for name in (
                "vehicle",
                "step",
                "mix",
                "check",
                "result",
                "coating",
                "process",
                "text",
                "zone",
                "value",
                "point",
                "alarm",
            )
        },
        "vans": st.lists(
            st.fixed_dictionaries({"vehicle": words}, optional={"guns": json_values, "probes": json_values}), max_size=2
        ),
        "lots": json_values,
    },
)
topics = st.one_of(
    st.sampled_from(
        sorted({message.topic for message in story()}) + ["shop/south/nothing", "plc/7/data", "shop//", "/", "shop/clock/x"]
    ),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
)
messages = st.one_of(
    st.tuples(topics, (readings | json_values).map(lambda body: json.dumps(body).encode())),
    st.tuples(st.just("shop/south/event"), events.map(lambda body: json.dumps(body).encode())),
    st.tuples(topics, st.binary(max_size=60)),
)


def points() -> PointMap:
    """The demonstration's, and topics of another shape, one of them read twice."""
    shop = Logger(demo_shop(), None, TickClock(NOW))._points
    deep, array = Shape("/data/value", "/data/t", "/data/unit", None, "unix_ms"), Shape("/1", "/0", None, "degC", "unix_s")
    own = (TopicMap("plc/+/data", "south/air-temperature", deep), TopicMap("plc/7/#", "north/air-temperature", array))
    return PointMap(shop.points, shop.booths, own, shop.prefix, shop.future_tolerance_us, shop.check_event)


def broken(payload: bytes, chance: random.Random) -> bytes:
    """A few bytes flipped, cut out, doubled, put in, or exchanged for something that a parser may stumble over."""
    data = bytearray(payload)
    for _ in range(chance.choice((1, 1, 1, 2, 5))):
        at = chance.randrange(len(data) + 1)
        how = chance.randrange(6)
        if how == 0 and at < len(data):
            data[at] ^= 1 << chance.randrange(8)
        elif how == 1:
            del data[at : at + chance.randrange(1, 9)]
        elif how == 2:
            data[at:at] = data[at : at + chance.randrange(1, 9)]
        elif how == 3:
            data[at:at] = chance.choice((b"\x00", b"\xff", b"}", b'"', b"9", b"e99", b"-", b"\\ud800", b"[" * 50, b",", b" "))
        elif how == 4 and at < len(data):
            data[at] = chance.randrange(256)
        else:
            del data[at:]
    return bytes(data)


def made_up() -> list[tuple[str, bytes]]:
    """What hypothesis thinks of; the same every time."""
    found: list[tuple[str, bytes]] = []

    @settings(max_examples=600, database=None, derandomize=True, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
    @given(st.lists(messages, min_size=5, max_size=15))
    def collect(some: list[tuple[str, bytes]]) -> None:
        found.extend(some)

    collect()
    return found


def fuzzed(chance: random.Random) -> list[tuple[str, bytes]]:
    """All of the messages: those thought of, and broken ones, most of them of the story; some of its own stay whole."""
    thought_of, valid = made_up(), [(one.topic, one.payload) for one in story() if one.is_reading]
    events = [(one.topic, one.payload) for one in story() if one.is_event]
    assert len(thought_of) > 2000
    found = list(thought_of)
    while len(found) < COUNT:
        topic, payload = chance.choice(chance.choices((valid, events, thought_of), (6, 2, 1))[0])
        if chance.random() < 0.05:
            topic = broken(topic.encode(), chance).decode("utf-8", "replace")
        found.append((topic, payload if chance.random() < 0.1 else broken(payload, chance)))
    return found


def test_every_one_of_a_hundred_thousand_is_stored_or_quarantined(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    chance = random.Random(SEED)
    everything = fuzzed(chance)
    with Store.open(tmp_path, writer=True) as store, caplog.at_level(logging.CRITICAL):
        logger = Logger(demo_shop(), store, TickClock(NOW))
        logger._points = points()
        counts, outcomes = logger.counts, 0
        for number in range(0, COUNT, AT_ONCE):
            part = everything[number : number + AT_ONCE]
            batch = [Received(topic, payload, NOW, 1, None, chance.random() < 0.01) for topic, payload in part]
            logger.handle(batch, NOW, lambda _message: None)
            made = (one for message in batch for one in logger._decoded(message, NOW))
            outcomes += sum(not isinstance(one, TickIn) for one in made)
            assert outcomes == sum(vars(counts).values()) - counts.received
            if number % (LOOK_EVERY * AT_ONCE) == 0:
                logger.look(NOW + number)
        assert counts.received == COUNT
        assert outcomes > COUNT  # a topic that is read twice gives two
        assert sum(store.readings.counts().values()) == counts.readings + counts.conflicts
        assert sum(store.quarantine.counts().values()) == counts.quarantined
        own = sum(entry.channel in ("logger", "signalled", "inferred") for entry in store.journal.entries())
        assert store.journal.head().entries == counts.events + own
        assert (store.journal.verify().problems, store.readings.verify().problems) == ((), ())
        reasons = store.quarantine.counts()
    assert caplog.messages == []
    assert min(counts.readings, counts.duplicates, counts.conflicts, counts.events, counts.repeated_events) > 20
    assert len(reasons) > 10, reasons
