"""Guns that were on and painted nothing: dust blown off, a gun cleaned, a pattern tested (common practice, no source).

A blow-off takes seconds, a test spray on paper some more, cleaning a gun a few minutes: only the last looks like a coat.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from stage import Stage, at, open_job, spray

from booth.store import Store
from booth.times import format_time

CLEANING = (300, 480)  # three minutes of thinner through the gun
COAT = (900, 1500)


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Store.open(tmp_path, writer=True) as store:
        stage = Stage(store)
        open_job(stage)
        yield stage


def standing(stage: Stage, second: float) -> list[tuple[str, float, float | None]]:
    """The steps of the van as the logger sees them now."""
    stage.look(second)
    runs = stage.watch.jobs["V-1"].round.runs
    return [(run.step, (run.start - at(0)) / 1e6, run.end and (run.end - at(0)) / 1e6) for run in runs]


def entry(stage: Stage, kind: str) -> str:
    return next(stage.store.journal.entries(kinds=[kind])).id


def none_between(stage: Stage, now: float, first: float, last: float) -> None:
    stage.say(now, "not-a-coat", **{"from": format_time(at(first)), "to": format_time(at(last))})


def test_a_blow_off_and_a_test_spray_are_told_by_their_length(stage: Stage) -> None:
    spray(stage, (60, 72), (300, 345), COAT, until=1800)
    assert standing(stage, 1800) == [("sealer", 900, 1500)]


@pytest.mark.parametrize("kind", ["step-start", "step-end"])
def test_cleaning_that_was_told_as_a_coat_is_taken_out_and_the_coat_after_it_gets_its_name(stage: Stage, kind: str) -> None:
    spray(stage, CLEANING, until=720)
    assert standing(stage, 720) == [("sealer", 300, 480)]
    stage.say(721, "not-a-coat", corrects=entry(stage, kind))
    assert standing(stage, 725) == []
    spray(stage, COAT, since=725, until=1800)
    assert standing(stage, 1800) == [("sealer", 900, 1500)]


def test_the_same_said_by_its_time_before_the_logger_told_of_it(stage: Stage) -> None:
    spray(stage, CLEANING, until=350)
    none_between(stage, 350, 290, 600)
    spray(stage, CLEANING, COAT, since=350, until=1800)
    assert stage.told() == [("inferred", "step-start", "sealer", 900), ("inferred", "step-end", "sealer", 1500)]


def test_the_same_said_by_its_time_after_the_logger_told_of_it(stage: Stage) -> None:
    spray(stage, CLEANING, COAT, until=1800)
    assert standing(stage, 1800) == [("sealer", 300, 480), ("base-1", 900, 1500)]
    none_between(stage, 1801, 290, 600)
    # What was told keeps its name until somebody corrects it: the journal can't hold one coat under two.
    assert standing(stage, 1805) == [("base-1", 900, 1500)]


def test_a_pattern_test_at_the_beginning_of_a_coat_leaves_the_coat(stage: Stage) -> None:
    """It is joined to the coat, which then begins too early."""
    spray(stage, (300, 420), (480, 1080), until=1380)
    assert standing(stage, 1380) == [("sealer", 300, 1080)]
    none_between(stage, 1381, 295, 425)
    spray(stage, since=1385, until=1440)
    assert standing(stage, 1440) == [("sealer", 480, 1080)]


def test_a_restart_keeps_it(stage: Stage) -> None:
    spray(stage, CLEANING, until=720)
    stage.say(721, "not-a-coat", corrects=entry(stage, "step-start"))
    told = stage.told()
    stage.restart()
    spray(stage, since=725, until=900)
    assert standing(stage, 900) == [] and stage.told() == told


def test_what_a_person_entered_stays(stage: Stage) -> None:
    stage.say(295, "step-start", vehicle="V-1", step="sealer")
    spray(stage, (300, 900), until=905)
    stage.say(905, "step-end", vehicle="V-1", step="sealer")
    none_between(stage, 906, 200, 950)
    assert standing(stage, 910) == [("sealer", 295, 905)]


def test_a_told_end_makes_no_second_coat(stage: Stage) -> None:
    """The end that the guns told is one of the coat that somebody began, and that coat is done."""
    stage.say(0, "step-start", vehicle="V-1", step="clear-2")
    spray(stage, (0, 300), until=350)
    stage.say(350, "load", vans=[])
    spray(stage, since=355, until=500)
    assert {one[2] for one in stage.told()} == {"clear-2"}
