"""What the instruments tell when nobody pressed a button. The figures (90 s of gun, pauses up to 3 min) are the demo shop's."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plants import demo_shop
from stage import live_after

from booth.judge.coats import told_by_guns
from booth.judge.facts import Job, Pass, Place, Round, Run
from booth.judge.infer import Stretch, gun_bursts, mode_stretches, told_by_mode
from booth.judge.series import Series
from booth.times import MINUTE, SECOND, parse_time

START = parse_time("2026-07-13T12:00:00Z")
AGE, SHORTEST, PAUSE = 15 * SECOND, 90 * SECOND, 3 * MINUTE
PROCESS = demo_shop().processes["standard"]
BAKE, COOL = 4, 5


def at(seconds: float) -> int:
    return START + round(seconds * SECOND)


def sampled(value_at, until: int, every: int = 5) -> Series:
    moments = np.arange(0, until, every)
    return Series(START + moments.astype(np.int64) * SECOND, np.array([value_at(s) for s in moments], float), AGE)


def gun(spells: list[tuple[int, int]], until: int) -> Series:
    return sampled(lambda s: 300.0 if any(a <= s < b for a, b in spells) else 0.0, until)


def bursts(spells: list[tuple[int, int]], until: int) -> list[tuple[int, int | None]]:
    found = gun_bursts([gun(spells, until)], 60, SHORTEST, PAUSE, at(until))
    return [((one.start - START) // SECOND, None if one.end is None else (one.end - START) // SECOND) for one in found]


def test_a_blow_gun_is_no_coat_and_a_pause_doesnt_end_one() -> None:
    assert bursts([(100, 118)], 1000) == []
    assert bursts([(100, 160), (250, 310), (400, 460)], 1000) == [(100, 460)]  # 60 s each, pauses of 90 s
    assert bursts([(100, 200), (600, 700)], 1000) == [(100, 200), (600, 700)]


def test_a_burst_has_no_end_while_its_pause_may_still_end() -> None:
    assert bursts([(100, 300)], 300 + 180) == [(100, None)]
    assert bursts([(100, 300)], 300 + 185) == [(100, 300)]


def test_a_gun_that_fell_silent_speaks_for_its_max_age_only() -> None:
    series = Series(START + np.arange(0, 200, 5, dtype=np.int64) * SECOND, np.full(40, 300.0), AGE)
    assert gun_bursts([series], 60, SHORTEST, PAUSE, at(1000)) == [Stretch(START, at(195 + 15))]


def test_two_guns_at_once_are_one_coat_and_count_once() -> None:
    both = [gun([(100, 150)], 600), gun([(100, 150)], 600)]
    assert gun_bursts(both, 60, SHORTEST, PAUSE, at(600)) == []  # 50 s of spraying, not 100
    assert gun_bursts([gun([(100, 150)], 600), gun([(150, 200)], 600)], 60, SHORTEST, PAUSE, at(600)) == [
        Stretch(at(100), at(200))
    ]


def modes(words: list[tuple[int, int]], until: int, number: int = BAKE, every: int = 1) -> list[tuple[int, int | None]]:
    """`words`: (from this second on, this mode)."""
    series = sampled(lambda s: [mode for since, mode in words if since <= s][-1], until, every)
    found = mode_stretches(series, number, at(until))
    return [((one.start - START) // SECOND, None if one.end is None else (one.end - START) // SECOND) for one in found]


def test_a_few_seconds_of_another_mode_dont_interrupt_a_bake() -> None:
    assert modes([(0, 0), (100, BAKE), (500, 6), (505, BAKE), (900, COOL)], 1000) == [(100, 900)]
    assert modes([(0, 0), (100, BAKE), (500, 6), (510, BAKE), (900, COOL)], 1000) == [(100, 500), (510, 900)]


def test_an_end_has_come_only_when_the_other_mode_has_lasted() -> None:
    story = [(0, 0), (100, BAKE), (500, COOL)]
    assert modes(story, 507) == [(100, None)]
    assert modes(story, 508) == [(100, 500)]


def test_a_passage_is_no_step() -> None:
    assert modes([(0, 0), (100, BAKE), (105, COOL)], 200) == []


@given(st.lists(st.tuples(st.integers(1, 40), st.sampled_from([0, 1, BAKE, COOL])), min_size=1, max_size=12), st.data())
@settings(max_examples=80, deadline=None)
def test_what_was_told_once_is_told_for_ever(passages: list[tuple[int, int]], data: st.DataObject) -> None:
    """Looking later only adds: else an entry in the journal would have to be taken back."""
    words, second = [], 0
    for length, mode in passages:
        words.append((second, mode))
        second += length
    earlier = data.draw(st.integers(1, second))
    before, after = modes(words, earlier), modes(words, second)
    assert [start for start, _ in before] == [start for start, _ in after][: len(before)]
    assert {one for one in before if one[1] is not None} <= set(after)


@given(st.lists(st.tuples(st.integers(0, 400), st.sampled_from([0.0, 300.0])), unique_by=lambda one: one[0]), st.randoms())
@settings(max_examples=80, deadline=None)
def test_the_order_of_arrival_changes_nothing(readings: list[tuple[int, float]], chance: random.Random) -> None:
    """Through the memory that live judging reads: any permutation, any batches."""
    shuffled = list(readings)
    chance.shuffle(shuffled)
    told = []
    for order in (sorted(readings), shuffled):
        series = live_after("south/gun-1", [(at(5 * second), value) for second, value in order])
        told.append(gun_bursts([series], 60, SHORTEST, PAUSE, at(2500)))
    assert told[0] == told[1]


def job(*runs: Run, number: int = 1) -> Job:
    round_ = Round(number, START - MINUTE, None, None, tuple(sorted(runs, key=lambda run: run.start)), (), ())
    return Job("V-1", "standard", None, START - MINUTE, None, (round_,), (Place("south", START, None, (), {}, True),), ())


def run(step: str, start: int, end: int | None, source: str = "entered") -> Run:
    ends = None if end is None else at(end)
    return Run(step, "", "south", at(start), ends, source, (Pass(None, at(start), ends, source),))


def told(job_: Job, spells: list[tuple[int, int | None]], moved_on: int | None = None) -> list[tuple[str, int, int | None]]:
    found = told_by_guns(
        job_,
        PROCESS,
        "south",
        [Stretch(at(a), None if b is None else at(b)) for a, b in spells],
        None if moved_on is None else at(moved_on),
    )
    return [(one.step, (one.start - START) // SECOND, None if one.end is None else (one.end - START) // SECOND) for one in found]


def test_coats_that_nobody_entered_are_told_in_the_order_of_the_process() -> None:
    assert told(job(), [(0, 600), (2000, 2600)]) == [("sealer", 0, 600), ("base-1", 2000, 2600)]


def test_an_entered_coat_explains_its_burst_and_the_next_one_is_the_next_coat() -> None:
    entered = job(run("sealer", 10, 610))
    assert told(entered, [(0, 600), (2000, None)]) == [("base-1", 2000, None)]


def test_between_two_entered_coats_lies_the_one_between_them() -> None:
    entered = job(run("sealer", 0, 600), run("clear-1", 4000, 4600))
    assert told(entered, [(0, 600), (2000, 2600), (4000, 4600)]) == [("base-1", 2000, 2600)]
    assert told(job(run("base-1", 0, 600), run("clear-1", 4000, 4600)), [(2000, 2600)]) == []  # which would it be?


def test_a_forgotten_end_comes_from_the_guns_once_the_booth_has_moved_on() -> None:
    entered = job(run("sealer", 10, None))
    assert told(entered, [(0, 600)]) == []
    assert told(entered, [(0, 600)], moved_on=500) == []
    assert told(entered, [(0, 600)], moved_on=900) == [("sealer", 0, 600)]


def by_mode(job_: Job, word: str, spells: list[tuple[int, int | None]], since: int = 0) -> list[tuple[str, int]]:
    stretches = {word: [Stretch(at(a), None if b is None else at(b)) for a, b in spells]}
    return [(one.step, (one.start - START) // SECOND) for one in told_by_mode(job_, PROCESS, "south", stretches, at(since))]


def test_a_mode_is_a_step_only_after_wet_paint_and_only_since_the_van_is_there() -> None:
    wet = job(run("clear-2", 100, 700))
    assert by_mode(job(), "purge", [(50, 90)]) == []
    assert by_mode(wet, "purge", [(50, 90), (900, 1000)]) == [("purge", 900)]
    assert by_mode(wet, "bake", [(1000, None)], since=1100) == []


def test_a_bake_interrupted_for_longer_stays_the_same_step() -> None:
    assert by_mode(job(run("clear-2", 100, 700)), "bake", [(1000, 1500), (1600, None)]) == [("bake", 1000), ("bake", 1600)]


@pytest.mark.parametrize("coats, expected", [(["sealer"], "sealer-bake"), (["sealer", "base-1"], "bake")])
def test_of_two_bakes_the_coats_say_which(coats: list[str], expected: str) -> None:
    steps = list(PROCESS.steps)
    extra = next(step for step in steps if step.step == "bake").model_copy(update={"step": "sealer-bake", "after": "sealer"})
    process = PROCESS.model_copy(update={"steps": (steps[0], extra, *steps[1:])})
    done = job(*(run(name, 100 * index, 100 * index + 50) for index, name in enumerate(coats)))
    found = told_by_mode(done, process, "south", {"bake": [Stretch(at(1000), None)]}, START)
    assert [one.step for one in found] == [expected]
