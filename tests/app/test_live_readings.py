"""The readings in memory answer as the store does, whatever comes late, twice or in contradiction."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.live_readings import KEPT_US, LiveReadings
from booth.store import Reading, Store
from booth.times import HOUR, MINUTE, SECOND

START = 1_700_000_000 * SECOND
POINT = "south/gun-1"


def reading(time: int, value: float, quality: str = "good", arrived: int = START) -> Reading:
    return Reading(POINT, time, arrived, str(value), "L/min", value, 1, quality)


seconds = st.integers(0, 30)
told = st.builds(
    lambda second, value, quality: reading(START + second * SECOND, value, quality),
    seconds,
    st.sampled_from([1.0, 2.0]),
    st.sampled_from(["good", "good", "good", "suspect"]),
)
batches = st.lists(st.lists(told, max_size=6), max_size=10)
questions = st.lists(st.tuples(seconds, seconds, st.integers(0, 20)), min_size=1, max_size=3)


@given(batches, questions, st.sets(st.integers(0, 9)))
@settings(max_examples=120, deadline=None)
def test_it_answers_as_the_store_does(batches: list, questions: list, restarts: set[int]) -> None:
    """Out of order, doubled, contradicted and of bad quality, asked in between, and begun anew now and then."""
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder), writer=True) as store:
        live = LiveReadings(store.readings, START - HOUR)
        for index, batch in enumerate(batches):
            if index in restarts:
                live = LiveReadings(store.readings, START - HOUR)
            store.readings.append(batch)
            earliest = live.add(batch)
            assert earliest == min((one.time for one in batch), default=None)
            for first, last, age in questions:
                first, last = sorted((first, last))
                span = (START + first * SECOND, START + last * SECOND, age * SECOND)
                ours, theirs = live.evidence(POINT, *span), store.readings.evidence(POINT, *span)
                assert np.array_equal(ours.times, theirs.times) and np.array_equal(ours.values, theirs.values)


def test_what_is_older_than_the_window_comes_out_of_the_store(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        live = LiveReadings(store.readings, START)
        batch = [reading(START + second * SECOND, 1.0) for second in range(-20, 20)]
        store.readings.append(batch)
        live.latest(POINT)
        live.add(batch)
        live.forget_before(START + 2 * HOUR)
        assert len(live.evidence(POINT, START - 20 * SECOND, START + 20 * SECOND, 0)) == 40


class Counting:
    """The store's readings, and how often it was asked for them."""

    def __init__(self, store: Store) -> None:
        self.asked, self.latest, self._evidence = 0, store.readings.latest, store.readings.evidence

    def evidence(self, *span: object) -> object:
        self.asked += 1
        return self._evidence(*span)


def test_a_span_that_began_long_ago_is_read_once_and_then_kept(tmp_path: Path) -> None:
    """A flash-off left open over a weekend, looked at every hour; now and then a reading of its beginning comes late."""
    with Store.open(tmp_path, writer=True) as store:
        begin, hours = START, 100
        store.readings.append([reading(begin + minute * MINUTE, minute / 7) for minute in range(-60, 30 * 60)])
        counting = Counting(store)
        live = LiveReadings(counting, begin)
        for hour in range(31, hours):
            now = begin + hour * HOUR
            batch = [reading(now - minute * MINUTE, hour + minute / 100) for minute in range(60, 0, -1)]
            if hour % 20 == 0:
                batch.append(reading(begin + hour * SECOND, 5.0))
            store.readings.append(batch)
            live.add(batch)
            live.forget_before(now - KEPT_US)
            span = (POINT, begin, now + 1, 10 * MINUTE)
            ours, theirs = live.evidence(*span), store.readings.evidence(*span)
            assert np.array_equal(ours.times, theirs.times) and np.array_equal(ours.values, theirs.values)
        assert counting.asked <= 2 + hours // 20  # the column, further back once, and each late reading
        live.forget_before(begin + hours * HOUR)
        live.forget_before(begin + (hours + 2) * HOUR)  # nobody asked for the beginning in between
        assert len(live._points[POINT].arrays()[0]) == 0


@given(st.lists(st.tuples(st.integers(0, 300), st.integers(0, 300), st.integers(0, 300)), min_size=1, max_size=8))
@settings(max_examples=60, deadline=None)
def test_the_window_moves_and_reaches_back_as_the_store_does(looks: list[tuple[int, int, int]]) -> None:
    """Hourly readings of a fortnight; spans of any age, asked for as time passes, beyond the most that is kept too."""
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder), writer=True) as store:
        store.readings.append([reading(START + hour * HOUR, float(hour)) for hour in range(330)])
        live, now = LiveReadings(store.readings, START + 300 * HOUR), START + 330 * HOUR
        for passed, first, length in looks:
            now += passed % 5 * HOUR
            live.forget_before(now - KEPT_US)
            late = [reading(START + first * HOUR + 1800 * SECOND, 0.5)]
            store.readings.append(late)
            live.add(late)
            span = (POINT, START + first * HOUR, START + (first + length) * HOUR, 2 * HOUR)
            ours, theirs = live.evidence(*span), store.readings.evidence(*span)
            assert np.array_equal(ours.times, theirs.times) and np.array_equal(ours.values, theirs.values)


def test_what_nobody_asks_further_back_about_takes_the_same_room_after_minutes_as_after_hours(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        live, kept = LiveReadings(store.readings, START - KEPT_US), []
        live.latest(POINT)
        for minute in range(8 * 60):
            now = START + minute * MINUTE
            batch = [reading(now + second * SECOND, 1.0) for second in range(0, 60, 5)]
            store.readings.append(batch)
            live.add(batch)
            live.forget_before(now - KEPT_US)
            live.evidence(POINT, now - 5 * MINUTE, now, 15 * SECOND)
            kept.append(len(live._points[POINT].arrays()[0]))
        assert max(kept) == max(kept[:60]) <= 60 * 12
