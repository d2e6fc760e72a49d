"""The readings in memory answer as the store does, whatever comes late, twice or in contradiction."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.live_readings import LiveReadings
from booth.store import Reading, Store
from booth.times import HOUR, SECOND

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
