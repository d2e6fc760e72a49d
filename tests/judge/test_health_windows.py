"""Whatever the batches, the windows and the restarts: the journal ends up with the same faults as one look at everything."""

from __future__ import annotations

import numpy as np
from health_shapes import START, at, told
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.judge.health.detect import NONE, Window, detect
from booth.judge.health.faults import WATCHED
from booth.judge.health.settling import back_to, changes
from booth.judge.health.spans import Interval
from booth.judge.health.terms import Terms
from booth.judge.series import Series
from booth.times import SECOND

A, B = "south/air-temperature", "south/air-temperature-2"
AGE = 15 * SECOND
TERMS = (
    Terms(A, AGE, 30 * SECOND, 30 * SECOND, 60 * SECOND, None, 5.0, B, (0.4, 0.3), 40 * SECOND),
    Terms(B, AGE, 30 * SECOND, 30 * SECOND),
)
LENGTH = 120  # readings every 5 s


class Journal:
    """The journal's part in it: every change is one more entry of its interval."""

    def __init__(self) -> None:
        self.known: dict[tuple[str, str, int], Interval] = {}
        self.entries = 0

    def of(self, point: str, fault: str | None = None) -> list[Interval]:
        return [one for (name, kind, _), one in self.known.items() if name == point and fault in (None, kind)]

    def look(
        self,
        readings: dict[str, tuple[np.ndarray, np.ndarray]],
        impossible: np.ndarray,
        since: int,
        until: int,
        late: bool = False,
    ) -> None:
        reach = max(one.reach_us for one in TERMS)
        start = back_to(since - reach, self.known.values(), reach) if late else since - reach
        series = {name: _from(*columns, start, until) for name, columns in readings.items()}
        bad = impossible[(impossible >= start) & (impossible <= until)]
        window = Window(start, since, until, series, impossible={A: bad})
        for terms in TERMS:
            for answer in detect(terms, window):
                for name in (terms.point, *([terms.partner] if answer.fault == "disagrees" else [])):
                    for one in changes(name, answer, self.of(name, answer.fault)):
                        self.known[one.point, one.fault, one.start] = one
                        self.entries += 1

    def standing(self) -> list[tuple]:
        return sorted((one.point, one.fault, *told([one])[0][:2]) for one in self.known.values() if not one.withdrawn)


def _from(moments: np.ndarray, values: np.ndarray, start: int, until: int) -> Series:
    first = max(0, int(np.searchsorted(moments, start)) - 1)
    past = int(np.searchsorted(moments, until, side="right"))
    return Series(moments[first:past], values[first:past], AGE)


piece = st.tuples(st.sampled_from(["steady", "noisy", "silent", "wild", "apart"]), st.integers(1, 30))


@st.composite
def traces(draw: st.DrawFn) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    words = [word for word, length in draw(st.lists(piece, min_size=1, max_size=8)) for _ in range(length)]
    words = (["noisy"] + words + ["noisy"] * LENGTH)[:LENGTH]
    moments = np.array([at(5 * index) for index in range(LENGTH)], np.int64)
    wobble = np.where(np.arange(LENGTH) % 2, 0.1, 0.0)
    value = np.array([{"wild": 60.0 * (index % 2), "steady": 23.0}.get(word, np.nan) for index, word in enumerate(words)])
    value = np.where(np.isnan(value), 23.0 + wobble, value)
    other = np.where(np.array(words) == "apart", 26.0 + wobble, 23.0 + wobble)
    spoke = np.array(words) != "silent"
    return {A: (moments[spoke], value[spoke]), B: (moments, other)}


def ends(cuts: list[int]) -> list[int]:
    return [at(5 * cut) for cut in sorted({*cuts, LENGTH - 1})]


def whole(readings: dict[str, tuple[np.ndarray, np.ndarray]], impossible: np.ndarray) -> list[tuple]:
    journal = Journal()
    journal.look(readings, impossible, START - SECOND, at(5 * (LENGTH - 1)))
    return journal.standing()


cuts = st.lists(st.integers(1, LENGTH - 1), max_size=20)
impossibles = st.lists(st.integers(0, LENGTH - 1), max_size=4).map(
    lambda seconds: np.array(sorted({at(5 * one + 2) for one in seconds}), np.int64)
)


@given(traces(), impossibles, cuts)
@settings(max_examples=150, deadline=None)
def test_however_often_somebody_looks(readings: dict, impossible: np.ndarray, cut: list[int]) -> None:
    journal, since = Journal(), START - SECOND
    for until in ends(cut):
        journal.look(readings, impossible, since, until)
        since = until
    assert journal.standing() == whole(readings, impossible)


@given(traces(), cuts)
@settings(max_examples=100, deadline=None)
def test_a_restart_looks_at_some_of_it_again_and_says_nothing_new(readings: dict, cut: list[int]) -> None:
    journal, since = Journal(), START - SECOND
    for until in ends(cut):
        journal.look(readings, NONE, since, until)
        before = journal.entries
        journal.look(readings, NONE, max(START - SECOND, since - 20 * SECOND), until)
        assert journal.entries == before
        since = until


@given(traces(), st.integers(0, LENGTH - 2), st.integers(1, 30), cuts)
@settings(max_examples=150, deadline=None)
def test_readings_that_come_late_change_what_was_said(readings: dict, first: int, length: int, cut: list[int]) -> None:
    moments, values = readings[A]
    held_back = (moments >= at(5 * first)) & (moments < at(5 * (first + length)))
    journal, since = Journal(), START - SECOND
    for until in ends(cut):
        journal.look(readings | {A: (moments[~held_back], values[~held_back])}, NONE, since, until)
        since = until
    if held_back.any():
        journal.look(readings, NONE, int(moments[held_back][0]), since, late=True)
    assert journal.standing() == whole(readings, NONE)


def test_the_traces_show_every_fault_that_readings_alone_show() -> None:
    """Else the properties above would prove nothing."""
    moments = np.array([at(5 * index) for index in range(LENGTH)], np.int64)
    index, wobble = np.arange(LENGTH), np.where(np.arange(LENGTH) % 2, 0.1, 0.0)
    value = np.where((index >= 10) & (index < 30), 23.0, 23.0 + wobble)
    value = np.where(index == 40, 60.0, value)
    spoke = (index < 50) | (index >= 60)
    other = np.where((index >= 70) & (index < 90), 26.0, 23.0) + wobble
    found = {fault for _, fault, *_ in whole({A: (moments[spoke], value[spoke]), B: (moments, other)}, np.array([at(500)]))}
    assert found == set(WATCHED) - {"clock_off", "out_of_operating_range"}
