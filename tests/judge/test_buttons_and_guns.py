"""Buttons pressed late, early, twice or for the wrong step, beside what the guns show (common practice, no source).

A painter in a hood presses with a glove, when both hands are free: seconds beside the trigger on a good day, else minutes.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.judge.coats import told_by_guns
from booth.judge.infer import Stretch
from booth.judge.same_work import same_work, shared_us
from booth.times import format_time
from tests.judge.made_up import START, Van, at, shop

# Minutes: a sealer from 20 to 34, a flash-off, a base coat from 60 to 74. Nobody told the guns about the buttons.
SEALER, BASE = Stretch(at(20), at(34)), Stretch(at(60), at(74))


def told(*steps: tuple, bursts: tuple[Stretch, ...] = (SEALER, BASE)) -> list[tuple]:
    van = opened(*steps)
    found = told_by_guns(van.job(), van.shop.processes["standard"], "north", bursts, None)
    return [(one.step, minute(one.start), minute(one.end)) for one in found]


def opened(*steps: tuple) -> Van:
    van = Van(shop())
    van.tell("job-open", 0, process="standard")
    for step in steps:
        van.step(*step)
    return van


def minute(us: int | None) -> float | None:
    return None if us is None else (us - START) / 60e6


def runs(van: Van) -> list[tuple]:
    return [(run.step, minute(run.start), minute(run.end), run.source) for run in van.job().round.runs]


@pytest.mark.parametrize(
    "sealer",
    [
        (20, 34),
        (15, 34),  # pressed while the gun was still being filled
        (26, 34),  # pressed when the roof was done
        (33, 34.5),  # start and end pressed together when all was done
        (20, 28),  # the end pressed too early
        (20, 50),  # the end pressed in the middle of the flash-off
    ],
)
def test_a_coat_that_somebody_entered_is_not_told_again(sealer: tuple) -> None:
    assert told(("sealer", *sealer)) == [("base-1", 60, 74)]


def inferred(van: Van, step: str, start: float, end: float | None, **known: str) -> None:
    van.tell("step-start", start, "inferred", step=step, **known)
    if end is not None:
        van.tell("step-end", end, "inferred", step=step, **known)


@pytest.mark.parametrize(("pressed_s", "stands"), [(0, True), (3, True), (59, True), (300, False)])
def test_a_slip_renames_nothing_that_the_guns_told(pressed_s: float, stands: bool) -> None:
    """Another coat's start and end pressed by mistake in the middle of a coat; five minutes of it are said on purpose."""
    van = opened()
    inferred(van, "sealer", 20, None)
    van.step("clear-1", 25, 25 + pressed_s / 60)
    told = told_by_guns(van.job(), van.shop.processes["standard"], "north", [SEALER], at(40), {at(20): "sealer"})
    assert [(one.step, one.end) for one in told] == ([("sealer", at(34))] if stands else [])
    assert ("sealer" in {run[0] for run in runs(van)}) is stands


def test_a_bake_told_by_its_heat_is_no_coat() -> None:
    """Neither a purge that somebody entered in it, nor a gun that was cleaned when it began, takes it out."""
    van = opened(("clear-2", 2, 12))
    inferred(van, "bake", 25, None, told_from="heat")
    van.step("purge", 26, 28)
    van.tell("not-a-coat", 40, booth="north", **{"from": format_time(at(19)), "to": format_time(at(30))})
    assert [run[0] for run in runs(van)] == ["clear-2", "bake", "purge"]
    inferred(van, "sealer", 22, 24)
    assert "sealer" not in {run[0] for run in runs(van)}


def test_what_is_sprayed_beside_another_van_later_isnt_what_an_open_coat_began_in() -> None:
    """The end of the sealer and the start of the base coat forgotten while it was alone; then another van came in."""
    van = opened()
    van.tell("step-start", 20, step="sealer")
    van.tell("step-end", 74, step="base-1")
    van.step("clear-1", 130, 144)
    process, beside = van.shop.processes["standard"], Stretch(at(90), at(104))
    told = told_by_guns(van.job(), process, "north", [SEALER, BASE], None, among_others=[beside])
    assert [(one.step, minute(one.start)) for one in told] == [("sealer", 20), ("base-1", 60)]


def test_a_van_that_is_done_once_more_gets_its_coats_once_more() -> None:
    van = opened()
    names = [step.step for step in van.shop.processes["standard"].coats()]
    written = {at(20 + 30 * index): name for index, name in enumerate(names)}
    for start, name in written.items():
        inferred(van, name, minute(start), minute(start) + 10)
    van.tell("job-close", 200)
    van.tell("reopen", 210, reason="dust")
    again = [Stretch(at(220), at(234)), Stretch(at(250), at(264))]
    told = told_by_guns(van.job(), van.shop.processes["standard"], "north", again, None, written)
    assert [(one.step, minute(one.start)) for one in told] == [(names[0], 220), (names[1], 250)]


def test_an_end_pressed_after_the_next_coat_began_hides_no_coat() -> None:
    assert told(("sealer", 20, 60)) == [("base-1", 60, 74)]
    assert told(("sealer", 20, 64)) == [("base-1", 60, 74)]


def test_a_start_pressed_before_the_coat_before_it_is_over_hides_no_coat() -> None:
    assert told(("base-1", 33, 74)) == [("sealer", 20, 34)]


def test_of_a_coat_that_goes_on_it_is_known_so_far() -> None:
    going = Stretch(at(60), None, at(64))
    assert told(("sealer", 20, 61), bursts=(SEALER, going)) == [("base-1", 60, None)]
    assert told(("sealer", 20, 34), ("base-1", 59, None), bursts=(SEALER, going)) == []


def test_pressed_twice_is_pressed_once() -> None:
    van = opened(("sealer", 20, 34))
    van.tell("step-start", 21, step="sealer")
    assert runs(van) == [("sealer", 20, 34, "entered")]
    again = opened(("sealer", 20, 34))
    again.tell("step-end", 35, step="sealer")
    assert runs(again) == [("sealer", 20, 34, "entered")]


def test_a_button_for_the_wrong_step_is_corrected_and_the_guns_add_nothing() -> None:
    van = opened(("clear-1", 20, 34))
    assert told(("clear-1", 20, 34), bursts=(SEALER,)) == []
    for entry in list(van.entries)[-2:]:
        van.tell("correction", 40, corrects=entry.id, set={"step": "sealer"}, reason="wrong button")
    assert runs(van) == [("sealer", 20, 34, "entered")]
    found = told_by_guns(van.job(), van.shop.processes["standard"], "north", [SEALER, BASE], None)
    assert [one.step for one in found] == ["base-1"]


@pytest.mark.parametrize("entered", [(20, 34), (26, 34), (19, 40)])
def test_people_name_what_the_guns_had_told_otherwise(entered: tuple) -> None:
    """The sealer was sprayed elsewhere; here it was the base coat, as somebody enters when it is done."""
    van = opened()
    van.step("sealer", 20, 34, channel="inferred")
    van.step("base-1", *entered)
    assert runs(van) == [("base-1", *entered, "entered")]
    van.step("clear-1", 45, 59, channel="inferred")  # what nobody contradicts stands
    assert [one[0] for one in runs(van)] == ["base-1", "clear-1"]


def test_a_start_that_was_told_and_never_ended_is_named_by_people_too() -> None:
    van = opened()
    van.step("sealer", 20, None, channel="inferred")
    van.step("base-1", 26, 34)
    assert runs(van) == [("base-1", 26, 34, "entered")]


def test_a_touch_is_not_the_same_work() -> None:
    van = opened()
    van.step("sealer", 20, 34, channel="inferred")
    van.step("base-1", 33, 50)
    assert [one[0] for one in runs(van)] == ["sealer", "base-1"]


def test_what_was_told_keeps_its_name() -> None:
    """Else one coat stood in the journal under two names."""
    van = opened()
    process = van.shop.processes["standard"]
    first = told_by_guns(van.job(), process, "north", [SEALER, BASE], None, {})
    assert [one.step for one in first] == ["sealer", "base-1"]
    written = {at(20): None, at(60): "base-1"}  # the first was a gun that was cleaned
    assert [one.step for one in told_by_guns(van.job(), process, "north", [SEALER, BASE], None, written)] == ["base-1"]
    written = {at(20): "base-1"}  # corrected by a person
    found = told_by_guns(van.job(), process, "north", [SEALER, BASE], None, written)
    assert [one.step for one in found] == ["base-1", "clear-1"]


def test_an_open_coat_that_began_among_others_is_not_the_one_sprayed_alone_later() -> None:
    """Its own spell isn't told, since another van stood beside it; the next one is the next coat's."""
    van = opened(("sealer", 19, None))
    found = told_by_guns(van.job(), van.shop.processes["standard"], "north", [BASE], at(90), among_others=[SEALER])
    assert [(one.step, minute(one.start), minute(one.end)) for one in found] == [("base-1", 60, 74)]


moments = st.integers(0, 300)
ends = st.none() | st.integers(0, 300)


@given(moments, ends, moments, ends)
def test_the_same_work_both_ways(start: int, length: int | None, other: int, other_length: int | None) -> None:
    one = (start, None if length is None else start + length)
    two = (other, None if other_length is None else other + other_length)
    assert same_work(*one, *two) == same_work(*two, *one)
    assert same_work(*one, *one)
    if same_work(*one, *two):
        assert shared_us(*one, *two) >= 0
