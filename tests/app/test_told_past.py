"""Readings out of files tell of the steps that nobody entered, as they would have told a logger that was there."""

from __future__ import annotations

from collections.abc import Iterator

from plants import END, VAN, demo_shop, play, received, shift_of_one_van

from booth.intake import remember_config, take
from booth.readers.decode import decode
from booth.reports.record import build_record, judge_vehicle
from booth.store import Store
from booth.telling import tell_past
from booth.times import SECOND
from booth.wiring import point_map

NOW = END + 24 * 3600 * SECOND


def outcomes() -> Iterator:
    points = point_map(demo_shop())
    for tick, topic, body in shift_of_one_van():
        message = received(topic, body, tick)
        yield from decode(message.topic, message.payload, message.arrived, points)


def steps(store: Store) -> dict[str, tuple]:
    record = build_record(judge_vehicle(demo_shop(), store, VAN, NOW))
    return {step["step"]: (step["start"], step["end"], step["source"]) for step in record["rounds"][-1]["steps"]}


def test_what_files_tell_is_what_a_logger_would_have_been_told() -> None:
    batches: dict[int, list] = {}
    for tick, topic, body in shift_of_one_van():
        batches.setdefault(tick, []).append((topic, body))
    with Store.in_memory() as watched, Store.in_memory() as read:
        play(watched, batches.items())
        remember_config(read, demo_shop(), END)
        taken = take(read, outcomes(), NOW, "replay")
        assert steps(read)["bake"][0] is None, "nobody enters a bake: only the mode tells of it"
        tell_past(demo_shop(), read, max(one.time for one in taken.readings), NOW)
        assert steps(read) == steps(watched)
        assert steps(read)["purge"][2] == steps(read)["bake"][2] == steps(read)["cool"][2] == "signalled"
        entries = read.journal.head().entries
        tell_past(demo_shop(), read, max(one.time for one in taken.readings), NOW)
        assert read.journal.head().entries == entries, "told once"
