"""A bake in a booth whose controller is silent: told by the air's heat, with the fan running (the demo shop's 45 and 40 °C)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from plants import demo_shop
from stage import Stage, open_job

from booth.store import Store

BEGIN, RATE = 600, 5 / 60  # a burner started ten minutes after the coat, 5 K/min: common practice, no source


def climb(second: float) -> float:
    return 23.0 if second < BEGIN else min(75.0, 23.0 + RATE * (second - BEGIN))


def cooled(second: float) -> float:
    return climb(second) if second < 2400 else max(25.0, 75.0 - (second - 2400))


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Store.open(tmp_path, writer=True) as store:
        yield wet(Stage(store))


def wet(stage: Stage) -> Stage:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-2")
    stage.say(300, "step-end", vehicle="V-1", step="clear-2")
    return stage


def test_start_and_end_of_a_bake_that_no_mode_tells(stage: Stage) -> None:
    stage.air(range(400, 2600, 5), None, air_temperature=cooled)
    (start, end) = stage.told()
    assert start[:3] == ("inferred", "step-start", "bake") and start[3] == pytest.approx(BEGIN, abs=5)
    assert end[:3] == ("inferred", "step-end", "bake") and end[3] == pytest.approx(2400, abs=5)
    too_early = stage.watch.seen["V-1", "bake/bake_start"].finding  # five minutes after the coat, at least ten by the sheet
    assert too_early.verdict.value == "missed" and too_early.span_source == "inferred"


def test_the_mode_decides_where_it_speaks(stage: Stage) -> None:
    stage.air(range(400, 1400, 5), "flash", air_temperature=climb)
    assert stage.told() == []


def test_heat_without_a_fan_is_no_bake(stage: Stage) -> None:
    stage.air(range(400, 1400, 5), None, air_temperature=climb, air_velocity=0.02)
    assert stage.told() == []


def test_a_booth_that_states_no_heat_tells_nothing(tmp_path: Path) -> None:
    shop = demo_shop()
    south = shop.booths["south"].model_copy(update={"heat": None})
    with Store.open(tmp_path, writer=True) as store:
        stage = wet(Stage(store, type(shop)(**(vars(shop) | {"booths": {**shop.booths, "south": south}}))))
        stage.air(range(400, 1400, 5), None, air_temperature=climb)
        assert stage.told() == []


def test_in_a_booth_that_was_hot_before_the_part_tells_it(stage: Stage) -> None:
    """And where no air is measured."""
    stage.air(range(400, 1400, 5), None, air_temperature=75.0, part_1=climb)
    assert stage.told()[0][:3] == ("inferred", "step-start", "bake")


def test_a_restart_tells_nothing_twice(stage: Stage) -> None:
    for first in range(400, 2600, 100):
        stage.air(range(first, first + 100, 5), None, air_temperature=cooled)
        stage.restart()
    assert len(stage.told()) == 2
