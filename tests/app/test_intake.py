"""Whatever comes in is in exactly one of the counts, and one commit keeps all of it."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from uuid import UUID

from hypothesis import given, settings
from hypothesis import strategies as st
from plants import demo_shop

from booth.intake import take
from booth.readers.decode import decode
from booth.readers.received import SessionLost
from booth.store import Store
from booth.times import HOUR, SECOND, format_time, parse_time
from booth.wiring import point_map

NOW = parse_time("2026-07-13T12:00:00Z")
POINTS = point_map(demo_shop())

times = st.one_of(
    st.integers(-3, 3).map(lambda second: format_time(NOW + second * SECOND)),
    st.sampled_from(["2026-07-13", "never", 12, None, format_time(NOW + HOUR)]),
)
values = st.one_of(st.floats(), st.integers(), st.sampled_from(["bake", "x\x00y", "\ud800", None, [], True, 10**400, "21.4"]))
readings = st.fixed_dictionaries(
    {}, optional={"time": times, "value": values, "unit": st.sampled_from(["degC", "degF", "percent", "m/s", "", "furlong", 3])}
)
events = st.fixed_dictionaries(
    {"event": st.sampled_from(["load", "step-start", "note", "mix", "check", "release", "acknowledge", "nonsense"])},
    optional={
        "id": st.one_of(st.integers(0, 3).map(lambda number: str(UUID(int=number))), st.just("no uuid")),
        "time": times,
        "by": st.sampled_from(["badge-17", "", 3, "\x00"]),
        "vehicle": st.sampled_from(["V-1", "", 7, "\x00", "x" * 3000]),
        "step": st.sampled_from(["clear-1", "polish"]),
        "text": st.text(max_size=8),
        "vans": st.one_of(st.just([]), st.just([{"vehicle": "V-1"}]), st.just("V-1")),
        "alarm": st.text(max_size=5),
        "values": st.dictionaries(st.text(max_size=3), st.text(max_size=5), max_size=2),
        "check": st.just("wash"),
        "result": st.sampled_from(["passed", "good"]),
    },
)
topics = st.sampled_from(
    ["shop/south/air-temperature", "shop/south/mode", "shop/south/humidity", "shop/nowhere/x", "elsewhere", "shop/clock/other"]
)
messages = st.one_of(
    st.tuples(topics, st.one_of(readings, values).map(lambda body: json.dumps(body).encode())),
    st.tuples(st.just("shop/south/event"), events.map(lambda body: json.dumps(body).encode())),
    st.tuples(topics, st.binary(max_size=30)),
)


@given(st.lists(st.lists(messages, max_size=8), max_size=5))
@settings(max_examples=150, deadline=None)
def test_every_message_is_in_exactly_one_count(batches: list[list[tuple[str, bytes]]]) -> None:
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder), writer=True) as store:
        sums = dict.fromkeys(("stored", "duplicates", "conflicts", "events", "repeated", "quarantined"), 0)
        for batch in batches:
            outcomes = [one for topic, payload in batch for one in decode(topic, payload, NOW, POINTS)]
            taken = take(store, outcomes, NOW, "mqtt")
            stored = taken.stored
            made = stored.stored + stored.duplicates + stored.conflicts
            assert made + len(taken.entries) + taken.repeated_events + taken.quarantined == len(outcomes) == len(batch)
            assert len(taken.readings) == made
            counted = (stored.stored, stored.duplicates, stored.conflicts, len(taken.entries), taken.repeated_events)
            for name, number in zip(sums, (*counted, taken.quarantined), strict=True):
                sums[name] += number
        assert sum(store.readings.counts().values()) == sums["stored"] + sums["conflicts"]
        assert store.journal.head().entries == sums["events"]
        assert sum(store.quarantine.counts().values()) == sums["quarantined"]
        assert store.journal.verify().ok


def test_a_lost_session_is_written_down(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        take(store, [SessionLost(NOW - HOUR, NOW)], NOW, "mqtt")
        [entry] = store.journal.entries()
        assert (entry.kind, entry.effective, entry.body) == (
            "gap",
            NOW - HOUR,
            {"since": format_time(NOW - HOUR), "until": format_time(NOW)},
        )
