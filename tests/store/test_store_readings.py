"""Readings: once each, contradictions out of evidence, and the same evidence in whatever order they came.

The reference is a naive loop in Python that knows nothing of the store; the bytes of the evidence hash are recomputed with json
and hashlib alone.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from itertools import count
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.store import Reading, Store, Stored, StoreError

T0 = 1_783_944_000_000_000  # 2026-07-13T12:00:00Z
SECOND = 1_000_000
_numbers = count()


def at(second: float, value: float = 21.4, arrived: float | None = None, point: str = "north/air", **other: str) -> Reading:
    time = T0 + int(second * SECOND)
    came = time if arrived is None else T0 + int(arrived * SECOND)
    return Reading(point, time, came, other.pop("sent", str(value)), "degC", value, 1, **other)


def seen(store: Store, start: float, end: float, max_age: float = 10, known_by: float | None = None) -> list[tuple[float, float]]:
    known = None if known_by is None else T0 + int(known_by * SECOND)
    series = store.readings.evidence("north/air", T0 + int(start * SECOND), T0 + int(end * SECOND), int(max_age * SECOND), known)
    assert series.max_age_us == max_age * SECOND
    return [((int(time) - T0) / SECOND, float(value)) for time, value in zip(series.times, series.values, strict=True)]


@pytest.mark.parametrize(
    ("there", "batch", "outcome"),
    [
        ([], [at(0), at(5)], Stored(2, 0, 0)),
        ([at(0)], [at(0)], Stored(0, 1, 0)),
        ([at(0)], [at(0, sent="21.40"), at(5)], Stored(1, 1, 0)),  # the same number
        ([at(0)], [at(0, 21.5)], Stored(0, 0, 1)),
        ([at(0), at(0, 21.5)], [at(0, 21.5), at(0, 21.4), at(0, 21.6)], Stored(0, 2, 1)),
        ([], [at(0), at(0), at(0, 21.5), at(0, 21.5), at(5)], Stored(2, 2, 1)),  # all within one batch
        ([at(0)], [at(0, point="south/air")], Stored(1, 0, 0)),
        ([], [], Stored(0, 0, 0)),
        ([at(5)], [at(0, arrived=60)], Stored(1, 0, 0)),  # late, never restamped
    ],
)
def test_once_each(store: Store, there: list[Reading], batch: list[Reading], outcome: Stored) -> None:
    store.readings.append(there)
    assert store.readings.append(batch) == outcome
    assert outcome.stored + outcome.duplicates + outcome.conflicts == len(batch)


def test_readings_come_back_as_sent(store: Store) -> None:
    sent = [at(0, 21.5, sent="21.50"), replace(at(5, 3.0, sent="spray"), unit="", mapping=2), at(10, quality="implausible")]
    store.readings.append(sent)
    assert list(store.readings.rows("north/air", T0, T0 + 11 * SECOND)) == sent
    assert list(store.readings.rows("north/air", T0 + 5 * SECOND, T0 + 10 * SECOND)) == sent[1:2]
    assert list(store.readings.rows("north/air", T0, T0 + 11 * SECOND, known_by=T0)) == sent[:1]
    assert list(store.readings.rows("nowhere", T0, T0 + SECOND)) == []


def test_conflicts_are_left_out_from_when_they_were_known(store: Store) -> None:
    store.readings.append([at(0, 1.0), at(5, 2.0), at(10, 3.0)])
    store.readings.append([at(5, 9.0, arrived=60)])
    assert seen(store, 0, 20) == [(0, 1.0), (10, 3.0)]
    assert seen(store, 0, 20, known_by=60) == [(0, 1.0), (10, 3.0)]
    assert seen(store, 0, 20, known_by=59) == [(0, 1.0), (5, 2.0), (10, 3.0)]
    assert seen(store, 0, 20, known_by=7) == [(0, 1.0), (5, 2.0)]
    assert [row.value for row in store.readings.rows("north/air", T0, T0 + 20 * SECOND)] == [1.0, 2.0, 9.0, 3.0]


def test_the_last_good_reading_before_the_start(store: Store) -> None:
    store.readings.append([at(0, 1.0), at(4, 2.0), at(6, 3.0, quality="stuck"), at(8, 4.0), at(8, 5.0), at(10, 6.0), at(20, 7.0)])
    assert seen(store, 9, 20) == [(4, 2.0), (10, 6.0)]  # 6 s isn't good, 8 s contradicts itself, the end is outside
    assert seen(store, 10, 20) == [(4, 2.0), (10, 6.0)]
    assert seen(store, 9, 20, max_age=5) == [(4, 2.0), (10, 6.0)]
    assert seen(store, 9, 20, max_age=4.9) == [(10, 6.0)]
    assert seen(store, 21, 22) == [(20, 7.0)]
    assert seen(store, 40, 41) == []


def test_latest_span_and_counts(store: Store) -> None:
    assert (store.readings.latest("north/air"), store.readings.span("north/air"), store.readings.counts()) == (None, None, {})
    store.readings.append([at(5), at(0), at(0, point="south/air"), at(9, quality="stuck")])
    assert store.readings.latest("north/air") == at(9, quality="stuck")
    store.readings.append([at(9, 30.0)])
    assert store.readings.latest("north/air").quality == "conflict"
    assert store.readings.span("north/air") == (T0, T0 + 9 * SECOND)
    assert store.readings.counts() == {"north/air": 4, "south/air": 1}


def test_more_rows_than_one_page(store: Store) -> None:
    store.readings.append([at(n) for n in range(10_100)] + [at(4999, 9.0)])
    assert [row.time for row in store.readings.rows("north/air", 0, 2**62)] == sorted(
        [at(n).time for n in [*range(10_100), 4999]]
    )


def test_refused_readings_keep_the_whole_batch_out(store: Store, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="north/air: 'inf' gives inf"):
        store.readings.append([at(0), at(5, float("inf"))])
    with Store.open(tmp_path / "store") as other, pytest.raises(StoreError, match="only the logger writes readings"):
        other.readings.append([at(0)])
    assert store.readings.counts() == {}


def test_point_names_survive_a_rollback(store: Store) -> None:
    with pytest.raises(ZeroDivisionError), store.transaction():
        store.readings.append([at(0, point="south/air")])
        raise ZeroDivisionError
    store.readings.append([at(0, point="north/air"), at(0, point="south/air")])
    assert store.readings.counts() == {"north/air": 1, "south/air": 1}


@pytest.mark.parametrize("statement", ["UPDATE reading SET value = 0", "DELETE FROM reading"])
def test_the_file_itself_refuses_changes(store: Store, outsider: sqlite3.Connection, statement: str) -> None:
    store.readings.append([at(0)])
    with pytest.raises(sqlite3.Error, match="a.reading.is.never"):
        outsider.execute(statement)
    with suppress(sqlite3.Error):  # ignored or refused, as that hand's SQLite was built
        outsider.execute(
            "INSERT OR REPLACE INTO reading SELECT point, time, ordinal, '0', unit, 0, mapping, arrived, quality FROM reading"
        )
    assert seen(store, 0, 1) == [(0, 21.4)]


def test_evidence_hash_recomputed_without_this_program(store: Store) -> None:
    store.readings.append([at(0, 21.5, sent="21.50"), at(5, 2.25, quality="stuck"), at(5, 1.5), at(0, 7.5, point="a/ü")])
    lines = [
        ["a/ü", T0, "7.5", "degC", 7.5, "good"],
        ["north/air", T0, "21.50", "degC", 21.5, "good"],
        ["north/air", T0 + 5 * SECOND, "1.5", "degC", 1.5, "good"],
        ["north/air", T0 + 5 * SECOND, "2.25", "degC", 2.25, "stuck"],
    ]
    data = "".join(json.dumps(line, separators=(",", ":"), ensure_ascii=False) + "\n" for line in lines).encode()
    expected = hashlib.sha256(data).hexdigest()
    assert store.readings.evidence_sha256(["north/air", "a/ü", "north/air"], T0, T0 + 9 * SECOND) == expected
    known = hashlib.sha256("".join(data.decode().splitlines(keepends=True)[1:2]).encode()).hexdigest()
    assert store.readings.evidence_sha256(["north/air"], T0, T0 + 9 * SECOND, known_by=T0) == known
    assert store.readings.evidence_sha256(["nowhere"], T0, T0 + SECOND) == hashlib.sha256(b"").hexdigest()


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """One store for all examples; each example has a point of its own."""
    with Store.open(tmp_path_factory.mktemp("shared"), writer=True) as opened:
        yield opened


readings = st.builds(
    Reading,
    point=st.just(""),
    time=st.integers(0, 20),
    arrived=st.integers(0, 30),
    sent=st.just("x"),
    unit=st.just("degC"),
    value=st.sampled_from([1.0, 2.0]),
    mapping=st.just(1),
    quality=st.sampled_from(["good", "good", "good", "stuck"]),
)


def reference(received: list[Reading], start: int, end: int, max_age: int, known_by: int) -> list[tuple[int, float]]:
    """Evidence by the rules' own words."""
    kept: dict[int, list[Reading]] = {}
    for reading in received:
        at_that_time = kept.setdefault(reading.time, [])
        if all(reading.value != other.value for other in at_that_time):
            at_that_time.append(reading)
    usable = []
    for time in sorted(kept):
        known = [reading for reading in kept[time] if reading.arrived <= known_by]
        if len(known) == 1 and known[0].quality == "good":
            usable.append((time, known[0].value))
    before = [pair for pair in usable if start - max_age <= pair[0] < start][-1:]
    return before + [pair for pair in usable if start <= pair[0] < end]


def pairs(store: Store, point: str, start: int, end: int, max_age: int, known_by: int | None) -> list[tuple[int, float]]:
    series = store.readings.evidence(point, start, end, max_age, known_by)
    return list(zip(series.times.tolist(), series.values.tolist(), strict=True))


@given(
    received=st.lists(readings, max_size=25),
    cuts=st.lists(st.integers(0, 25), max_size=3),
    start=st.integers(0, 20),
    length=st.integers(0, 20),
    max_age=st.integers(0, 10),
    known_by=st.integers(0, 30),
)
def test_evidence_is_what_a_naive_reading_of_the_rules_gives(
    shared: Store, received: list[Reading], cuts: list[int], start: int, length: int, max_age: int, known_by: int
) -> None:
    point = f"example/{next(_numbers)}"
    received = [replace(reading, point=point) for reading in received]
    edges = [0, *sorted(cuts), len(received)]
    for first, last in zip(edges, edges[1:], strict=False):  # the batches it came in
        shared.readings.append(received[first:last])
    for known in (known_by, None):
        expected = reference(received, start, start + length, max_age, 30 if known is None else known)
        assert pairs(shared, point, start, start + length, max_age, known) == expected


@given(st.data())
def test_order_and_repetition_of_arrival_change_nothing(shared: Store, data: st.DataObject) -> None:
    once = [replace(reading, quality="good") for reading in data.draw(st.lists(readings, min_size=1, max_size=15))]
    again = data.draw(st.permutations(once + data.draw(st.lists(st.sampled_from(once), max_size=10))))
    straight, shuffled = (f"example/{next(_numbers)}" for _ in range(2))
    shared.readings.append([replace(reading, point=straight) for reading in once])
    for reading in again:
        shared.readings.append([replace(reading, point=shuffled)])
    assert pairs(shared, straight, 3, 18, 2, None) == pairs(shared, shuffled, 3, 18, 2, None)
    rows = ([(row.time, row.value) for row in shared.readings.rows(point, 0, 99)] for point in (straight, shuffled))
    first, second = (sorted(found) for found in rows)
    assert first == second
