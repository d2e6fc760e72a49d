"""Sealed or hot, the answers are the same: a store that seals now and then is asked what one that never does is asked.

No source outside the project defines this behaviour; the standard library's statistics are the reference for hourly summaries.
"""

from __future__ import annotations

import sqlite3
import statistics
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.store import Draft, Reading, Store, Stored, StoreError, sealing
from booth.times import HOUR, SECOND

H = 1_783_944_000_000_000  # 2026-07-13T12:00:00Z, a full hour
MINUTE = 60 * SECOND
_numbers = count()


def at(minute: float, value: float = 21.4, point: str = "north/air", **other: Any) -> Reading:
    time = H + int(minute * MINUTE)
    return Reading(point, time, other.pop("arrived", time), str(value), "degC", value, 1, **other)


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, Store]]:
    """One that seals, one that never does; each example has a point of its own in both."""
    folder = tmp_path_factory.mktemp("pair")
    with Store.open(folder / "sealing", writer=True) as one, Store.open(folder / "never", writer=True) as other:
        yield one, other


moments = st.integers(0, 4 * 12).map(lambda step: step * 5)  # minutes: four hours, each with a reading on its very edge
readings = st.builds(
    lambda minute, value, arrived, quality: at(minute, value, arrived=H + arrived * MINUTE, quality=quality),
    minute=moments,
    value=st.sampled_from([1.0, 2.0, 3.5]),
    arrived=st.integers(0, 300),
    quality=st.sampled_from(["good", "good", "good", "stuck"]),
)
steps = st.lists(st.lists(readings, max_size=12) | st.integers(0, 5), max_size=8)  # a batch, or: seal before that hour


def answers(store: Store, point: str, start: int, end: int, max_age: int, known_by: int) -> tuple:
    """Everything that can be asked about a point."""
    ask = store.readings
    series = [ask.evidence(point, start, end, max_age, known) for known in (None, known_by)]
    hourly = ask.hourly(point, start, end)
    latest, span = ask.latest(point), ask.span(point)
    return (
        [(one.times.tolist(), one.values.tolist(), one.max_age_us) for one in series],
        [list(ask.rows(point, begin, past, known)) for begin, past in ((start, end), (0, 2**62)) for known in (None, known_by)],
        latest,
        span,
        ask.counts().get(point),
        [ask.evidence_sha256([point], start, end, known) for known in (None, known_by)],
        [getattr(hourly, name).tolist() for name in ("hours", "count", "low", "mean", "high", "first", "last")],
        [ask.gaps(point, longer) for longer in (4 * MINUTE, 7 * MINUTE, HOUR)],
    )


@given(steps=steps, start=moments, length=st.integers(0, 300), max_age=st.integers(0, 90), known_by=st.integers(0, 300))
def test_whatever_is_sealed_the_answers_are_the_same(
    pair: tuple[Store, Store], steps: list, start: int, length: int, max_age: int, known_by: int
) -> None:
    point = f"example/{next(_numbers)}"
    begin = H + start * MINUTE
    question = (point, begin, begin + length * MINUTE, max_age * MINUTE, H + known_by * MINUTE)
    for step in steps:
        if isinstance(step, int):
            pair[0].readings.seal(H + step * HOUR)
        else:
            batch = [replace(reading, point=point) for reading in step]
            one, other = (store.readings.append(batch) for store in pair)
            assert one == other  # stored, duplicates, conflicts
        one, other = (answers(store, *question) for store in pair)
        assert one == other


def test_what_was_sealed_is_whole(pair: tuple[Store, Store]) -> None:
    for store in pair:
        found = store.readings.verify()
        assert (found.ok, found.problems, found.lost) == (True, (), ())
    assert pair[1].readings.verify().hours == 0


def test_only_whole_hours_that_are_old_enough_are_sealed(store: Store) -> None:
    store.readings.append([at(minute) for minute in range(0, 180, 10)])
    assert store.readings.seal(H + 3 * HOUR - 1, keep_hot_us=HOUR).hours == 1
    assert store.readings.seal(H + 3 * HOUR, keep_hot_us=HOUR).hours == 1
    again = store.readings.seal(H + 3 * HOUR, keep_hot_us=HOUR)
    assert (again.hours, again.readings, again.bytes, again.longest_lock_s) == (0, 0, 0, 0.0)
    (held,) = store.readings.held()
    assert (held.point, held.hot, held.sealed) == ("north/air", 6, 12)


def test_a_late_reading_of_a_sealed_hour_is_kept_found_and_stays(store: Store) -> None:
    store.readings.append([at(0, 1.0), at(10, 2.0)])
    store.readings.seal(H + HOUR)
    assert store.readings.append([at(5, 3.0), at(10, 2.0), at(10, 9.0), at(70)]) == Stored(2, 1, 1)
    assert store.readings.append([at(5, 3.0), at(10, 9.0), at(0, 1.0)]) == Stored(0, 3, 0)
    store.readings.seal(H + 9 * HOUR)
    series = store.readings.evidence("north/air", H, H + HOUR, 0)
    assert series.values.tolist() == [1.0, 3.0]  # at 10 min two values contradict each other
    assert [row.value for row in store.readings.rows("north/air", H, H + HOUR)] == [1.0, 3.0, 2.0, 9.0]
    assert store.readings.held()[0].hot == 2


def test_hourly_summaries_by_the_standard_library(store: Store) -> None:
    values = [20.1, 20.3, 19.8, 20.0, 21.7, 21.9]
    store.readings.append([at(minute, value) for minute, value in zip((0, 20, 40, 60, 80, 300), values, strict=True)])
    store.readings.append([at(50, 99.0, quality="stuck"), at(55, 1.0), at(55, 2.0), at(120, 5.0, quality="stuck")])
    store.readings.seal(H + 5 * HOUR)
    found = store.readings.hourly("north/air", H, H + 9 * HOUR)
    assert found.hours.tolist() == [H, H + HOUR, H + 5 * HOUR]
    groups = (values[:3], values[3:5], values[5:])
    assert found.count.tolist() == [3, 2, 1]
    assert found.low.tolist() == [min(group) for group in groups]
    assert found.mean.tolist() == [statistics.fmean(group) for group in groups]
    assert found.high.tolist() == [max(group) for group in groups]
    assert found.first.tolist() == [group[0] for group in groups]
    assert found.last.tolist() == [group[-1] for group in groups]
    assert store.readings.days() == 1


def test_the_trigger_lets_nothing_go_that_is_not_being_sealed(store: Store, outsider: sqlite3.Connection) -> None:
    store.readings.append([at(0), at(5)])
    with pytest.raises(StoreError, match="a reading is never deleted but when it is sealed"):
        store._database.execute("DELETE FROM reading")
    with pytest.raises(sqlite3.OperationalError, match="a_reading_is_never_deleted_but_when_sealed"):
        outsider.execute("DELETE FROM reading")
    first = store._database.row("SELECT point, time, ordinal, sent, unit, value, mapping, arrived, quality FROM reading")
    for leaving in ({first[1:3]: first}, {first[1:3]: (*first[:3], "0", *first[4:])}):
        store.readings._sealing._leaving = leaving
        with pytest.raises(StoreError, match="a reading is never deleted but when it is sealed"):
            store._database.execute("DELETE FROM reading WHERE value > ?", (0 if len(leaving) == 1 else 1,))
        assert store.readings.counts() == {"north/air": 2}


@pytest.mark.parametrize("table", ["chunk", "sealed_hour"])
@pytest.mark.parametrize(
    "statement",
    ["DELETE FROM {}", "UPDATE {} SET rowid_or_point = 1", "INSERT OR REPLACE INTO {} SELECT * FROM {}"],
)
def test_the_file_itself_keeps_what_is_sealed(store: Store, outsider: sqlite3.Connection, table: str, statement: str) -> None:
    store.readings.append([at(0), at(5)])
    store.readings.seal(H + HOUR)
    column = "id" if table == "chunk" else "point"
    with pytest.raises(sqlite3.IntegrityError, match="a sealed reading is never changed or deleted"):
        outsider.execute(statement.replace("rowid_or_point", column).replace("{}", table))
    assert store.readings.verify().ok


def test_a_chunk_that_does_not_give_back_what_was_sent_deletes_nothing(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    store.readings.append([at(0), at(5)])
    right = sealing.pack
    monkeypatch.setattr(sealing, "pack", lambda point, hour, rows: right(point, hour, [rows[0], rows[1]._replace(sent="21.5")]))
    with pytest.raises(StoreError, match="north/air, hour from 2026-07-13T12:00:00.000Z: its chunk doesn't give back"):
        store.readings.seal(H + HOUR)
    assert store.readings.held()[0].hot == 2


def test_sealing_inside_a_transaction_is_refused(store: Store) -> None:
    with pytest.raises(StoreError, match="call it outside a transaction"), store.transaction():
        store.readings.seal(H)


@pytest.fixture
def forge(store: Store, outsider: sqlite3.Connection) -> Callable[[str], None]:
    """Runs a statement behind the back of the file's triggers, which are there again afterwards."""

    def run(statement: str) -> None:
        triggers = outsider.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            outsider.execute(f"DROP TRIGGER {name}")
        outsider.execute(statement)
        for _, sql in triggers:
            outsider.execute(sql)

    return run


def test_a_broken_chunk_costs_its_own_readings_only(store: Store, forge: Callable[[str], None]) -> None:
    store.readings.append([at(minute, point=point) for point in ("north/air", "south/air") for minute in range(0, 180, 10)])
    store.readings.seal(H + 3 * HOUR)
    forge("UPDATE chunk SET bytes = CAST(substr(bytes, 1, 40) || x'00' || substr(bytes, 42) AS BLOB) WHERE id = 2")
    assert store.readings.lost == []
    assert [row.time for row in store.readings.rows("north/air", H, H + 3 * HOUR)] == [
        at(minute).time for minute in range(0, 180, 10) if not 60 <= minute < 120
    ]
    assert len(store.readings.evidence("south/air", H, H + 3 * HOUR, 0)) == 18
    sentence = "north/air, hour from 2026-07-13T13:00:00.000Z: 6 readings are lost; its bytes hash to"
    assert str(store.readings.lost[0]).startswith(sentence)
    found = store.readings.verify()
    assert (found.ok, found.hours, found.readings, len(found.problems)) == (False, 5, 30, 1)
    assert [(lost.point, lost.hour, lost.count) for lost in found.lost] == [("north/air", H + HOUR, 6)]
    assert found.problems[0].startswith(sentence)
    assert store.readings.append([at(60), at(61)]) == Stored(2, 0, 0)  # sent again, it is there again
    assert store.readings.latest("north/air") == at(170)


@pytest.mark.parametrize(
    ("statement", "sentence"),
    [
        ("UPDATE sealed_hour SET mean = mean + 0.1", "the readings are whole, but what was noted about them isn't: mean"),
        ("UPDATE sealed_hour SET count = 99, longest_gap = 1", "isn't: count, longest_gap"),
        ("UPDATE sealed_hour SET last_time = last_time + 1", "isn't: last_time"),
        ("UPDATE sealed_hour SET hour = hour + 3600000000 * 7", "its bytes are those of north/air"),
        ("UPDATE point SET text = 'north/humidity'", "its bytes are those of north/air"),
        ("DELETE FROM chunk", "3 readings are lost; there is no chunk 1"),
        ("DELETE FROM sealed_hour", "Chunk 1: it belongs to no hour"),
        ("CREATE TABLE mine (x)", "The table mine was added by somebody"),
        ("DROP INDEX sealed_hour_newest", "The index sealed_hour_newest is missing"),
        ("UPDATE sealed_hour SET sha256 = zeroblob(32)", "but 0000000000000000… was recorded"),
    ],
)
def test_what_verifying_finds(store: Store, forge: Callable[[str], None], statement: str, sentence: str) -> None:
    store.readings.append([at(0, 1.0), at(10, 2.0), at(20, 4.0)])
    store.readings.seal(H + HOUR)
    assert store.readings.verify().ok
    forge(statement)
    found = store.readings.verify()
    assert not found.ok and sentence in " ".join(found.problems)


def test_readers_see_every_reading_once_while_another_seals(store: Store, tmp_path: Path) -> None:
    sent = [at(minute / 4, point="north/air") for minute in range(60 * 4 * 12)]
    store.readings.append(sent)
    done = threading.Event()
    failures: list[str] = []

    def read() -> None:
        with Store.open(tmp_path / "store") as other:
            rounds = 0
            while not done.is_set() or rounds == 0:
                rounds += 1
                seen = (
                    len(other.readings.evidence("north/air", H, H + 12 * HOUR, 0)),
                    sum(1 for _ in other.readings.rows("north/air", H, H + 12 * HOUR)),
                    other.readings.counts()["north/air"],
                )
                if seen != (len(sent),) * 3:
                    failures.append(f"{seen}")

    reader = threading.Thread(target=read)
    reader.start()
    with Store.open(tmp_path / "store") as sealer:  # not the logger
        outcome = sealer.readings.seal(H + 12 * HOUR)
    done.set()
    reader.join()
    assert failures == []
    assert (outcome.hours, outcome.readings) == (12, len(sent))
    assert store.readings.append([sent[7]]) == Stored(0, 1, 0)  # the logger notices
    assert store.journal.append([Draft("note", {}, 0, 0, "test")])[0].new
