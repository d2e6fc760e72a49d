"""With more than one van in a booth the guns never decide whose coat it was: the painter is asked, and the answer settles it."""

from __future__ import annotations

import pytest
from stage import Stage, at, spray, two_vans, van

from booth.times import format_time

COAT = (0, 600)
ASKED = f"south/whose_coat/{format_time(at(0))}"


@pytest.fixture
def stage(stage: Stage) -> Stage:
    two_vans(stage)
    return stage


def asked(stage: Stage) -> list[str]:
    return [name for name, alarm in stage.watch.book.standing().items() if "whose_coat" in name and alarm.raised]


def raised(stage: Stage) -> list[tuple[str, float]]:
    return [(name, second) for name, state, second, _ in stage.alarms("whose_coat") if state == "unacknowledged"]


def answer(stage: Stage, now: float, kind: str, second: float, vehicle: str = "V-2", step: str = "sealer") -> None:
    stage.say(second, kind, now=now, vehicle=vehicle, step=step)
    stage.look(now)


def test_a_coat_that_nobody_entered_is_asked_while_it_is_sprayed(stage: Stage) -> None:
    spray(stage, COAT, until=120)
    assert raised(stage) == [(ASKED, 100)]  # 90 s of gun make a coat; a warning stands 10 s before it is announced
    condition = stage.watch.book.alarms[ASKED].condition
    assert (condition.audience, condition.priority, condition.vehicle) == ("painter", "warning", None)
    assert "V-1, V-2" in condition.sentence and "not-a-coat" not in condition.sentence
    assert stage.told() == []


def test_short_bursts_and_entered_coats_are_not_asked(stage: Stage) -> None:
    stage.say(-5, "step-start", vehicle="V-2", step="sealer")
    spray(stage, COAT, (900, 960), until=620)
    stage.say(620, "step-end", vehicle="V-2", step="sealer")
    spray(stage, (900, 960), since=620, until=1300)
    assert raised(stage) == []


@pytest.mark.parametrize("vehicle", ["V-1", "V-2"])
def test_the_answer_is_the_coat_of_a_van(stage: Stage, vehicle: str) -> None:
    spray(stage, COAT, until=900)
    answer(stage, 905, "step-start", 0, vehicle)
    answer(stage, 910, "step-end", 600, vehicle)
    (run,) = stage.watch.jobs[vehicle].round.runs
    assert (run.step, run.source, run.start, run.end) == ("sealer", "entered", at(0), at(600))
    assert stage.alarms("whose_coat")[-1][1] == "returned_unacknowledged"  # over, and still to be seen by somebody
    before = stage.told()
    stage.restart()
    spray(stage, since=915, until=1200)
    assert len(raised(stage)) == 1 and stage.told() == before == []


def test_the_answer_may_be_that_it_was_no_coat(stage: Stage) -> None:
    spray(stage, COAT, until=900)
    stage.say(905, "not-a-coat", **{"from": format_time(at(0)), "to": format_time(at(600))})
    stage.look(905)
    assert stage.alarms("whose_coat")[-1][1] == "returned_unacknowledged"
    assert all(not job.round.runs for job in stage.watch.jobs.values())


def test_an_open_coat_of_one_van_claims_its_own_spraying_only(stage: Stage) -> None:
    stage.say(0, "step-start", vehicle="V-1", step="sealer")  # and its end was forgotten
    spray(stage, COAT, (1200, 1800), until=1900)
    assert raised(stage) == [(f"south/whose_coat/{format_time(at(1200))}", 1300)]


def test_each_spell_is_a_question_of_its_own(stage: Stage) -> None:
    spray(stage, COAT, (1200, 1800), until=2100)
    assert [second for _, second in raised(stage)] == [100, 1300]
    answer(stage, 2105, "step-start", 1200)
    answer(stage, 2110, "step-end", 1800)
    assert ASKED in asked(stage)


def test_what_began_while_a_van_was_alone_is_its_own(stage: Stage) -> None:
    stage.say(0, "load", vans=[van()])
    spray(stage, (60, 660), until=300, since=0)
    stage.say(300, "load", vans=[van(), {"vehicle": "V-2"}])
    spray(stage, (60, 660), until=1200, since=300)
    assert stage.told() == [("inferred", "step-start", "sealer", 60), ("inferred", "step-end", "sealer", 660)]
    assert raised(stage) == []


def test_what_is_sprayed_after_another_came_in_is_a_spell_of_its_own(stage: Stage) -> None:
    """However soon: nobody sprays while a van is moved."""
    stage.say(0, "load", vans=[van()])
    strokes = ((60, 660), (720, 1320))
    spray(stage, *strokes, until=690, since=0)
    stage.say(690, "load", vans=[van(), {"vehicle": "V-2"}])
    spray(stage, *strokes, until=1600, since=690)
    assert stage.told() == [("inferred", "step-start", "sealer", 60), ("inferred", "step-end", "sealer", 660)]
    assert [second for _, second in raised(stage)] == [720 + 100]


def test_a_van_that_may_have_had_a_coat_is_asked_too_when_it_is_alone(stage: Stage) -> None:
    """Which coat is the next one depends on the answer; then the guns tell it."""
    strokes = (COAT, (1200, 1800))
    spray(stage, *strokes, until=900)
    stage.say(900, "load", vans=[van()])
    spray(stage, *strokes, since=900, until=2100)
    assert stage.told() == [] and len(raised(stage)) == 2
    answer(stage, 2105, "step-start", 0, "V-2")
    answer(stage, 2110, "step-end", 600, "V-2")
    spray(stage, since=2115, until=2200)
    assert stage.told() == [("inferred", "step-start", "sealer", 1200), ("inferred", "step-end", "sealer", 1800)]


def test_what_began_among_two_is_asked_to_its_end(stage: Stage) -> None:
    """And is no coat of the one that stays, from when the other left."""
    spray(stage, COAT, until=300)
    stage.say(300, "load", vans=[van()])
    spray(stage, COAT, since=300, until=900)
    assert [name for name, _ in raised(stage)] == [ASKED] and stage.told() == []


def test_nobody_is_asked_once_both_are_done(stage: Stage) -> None:
    spray(stage, COAT, until=900)
    for vehicle in ("V-1", "V-2"):
        stage.say(905, "job-close", vehicle=vehicle)
    stage.look(910)
    assert stage.alarms("whose_coat")[-1][1] == "returned_unacknowledged"


@pytest.mark.parametrize("pressed", [605, 700, 760])
def test_a_second_van_right_after_the_first_is_not_taken_for_the_same_coat(stage: Stage, pressed: int) -> None:
    """Within the longest pause, so that by the guns alone the two are one spell; the end may be pressed late, too."""
    stage.say(0, "step-start", vehicle="V-1", step="sealer")
    strokes = [COAT, *((second, second + 40) for second in range(720, 1320, 45))]
    spray(stage, *strokes, until=pressed)
    stage.say(pressed, "step-end", vehicle="V-1", step="sealer")
    spray(stage, *strokes, since=pressed, until=1600)
    assert {name for name, _ in raised(stage)} <= {f"south/whose_coat/{format_time(at(second))}" for second in (720, 765)}
    assert len(raised(stage)) == 1


def test_a_coat_begun_right_after_another_vans_and_never_ended_claims_nothing_later(stage: Stage) -> None:
    """Its start lies in a spell that is the other's by most of it."""
    strokes = ((0, 600), (660, 900), (1200, 1800))
    stage.say(0, "step-start", vehicle="V-1", step="sealer")
    spray(stage, *strokes, until=650)
    stage.say(650, "step-start", vehicle="V-2", step="sealer")
    spray(stage, *strokes, since=650, until=1900)
    assert [second for _, second in raised(stage)] == [1300]
