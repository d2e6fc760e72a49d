"""Which alarms stand, for how long and whose they are."""

from __future__ import annotations

from pathlib import Path

import pytest
from stage import BAKE_START, LATEST, Stage, at, one_coat, open_job

from booth.store import Draft, Store
from booth.times import format_time


def test_a_miss_stays_while_its_round_is_open_and_goes_with_it(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, 300, 5), "spray", humidity=lambda second: 90.0 if second >= 100 else 45.0)
    stage.say(300, "step-end", vehicle="V-1", step="clear-1")
    stage.air(range(300, 900, 5), "flash")
    name = "V-1/1/clear-1/relative_humidity"
    assert stage.watch.book.alarms[name].state == "unacknowledged"
    stage.say(900, "acknowledge", alarm=name)
    stage.say(950, "job-close", vehicle="V-1")
    stage.restart()
    stage.look(1500)
    assert stage.alarms(name)[-1][1:3] == ("normal", 950)


def test_a_miss_that_later_evidence_took_back_can_come_again(stage: Stage) -> None:
    one_coat(stage)
    stage.look(300 + LATEST + 60)
    start = next(e for e in stage.store.journal.entries(kinds=["step-end"]))
    stage.store.journal.append(
        [
            Draft(
                "correction",
                {"corrects": start.id, "set": {"time": format_time(at(900))}},
                at(2200),
                at(2200),
                "cli",
                private={"reason": "x"},
            )
        ]
    )
    stage.look(2205)
    assert stage.alarms(BAKE_START)[-1][1] == "returned_unacknowledged"
    stage.look(900 + LATEST + 30)
    assert stage.alarms(BAKE_START)[-1][1:3] == ("unacknowledged", 900 + LATEST)


def test_a_remedied_miss_needs_nobody_any_more(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="sealer")
    stage.say(300, "step-end", vehicle="V-1", step="sealer")
    late = 75 * 60 + 60
    stage.look(late)
    name = "V-1/1/sealer-flash/flash_maximum"
    assert stage.watch.book.alarms[name].condition.latched
    stage.say(late + 10, "check", vehicle="V-1", check="scuff", result="passed")
    stage.look(late + 15)
    assert stage.alarms(name)[-1][1:3] == ("returned_unacknowledged", late + 10)
    stage.look(late + 300)
    assert len(stage.alarms(name)) == len({one[1:] for one in stage.alarms(name)})


def test_an_alarm_says_the_booth_that_the_van_is_in(stage: Stage) -> None:
    one_coat(stage)
    stage.look(300 + LATEST + 60)
    assert {message["booth"] for message in stage.ears.of_the_work()} == {"south"}
    stage.say(300 + LATEST + 70, "load", vans=[])
    stage.restart()
    stage.look(300 + LATEST + 75)
    assert {message["booth"] for message in stage.ears.of_the_work()} == {"south"}


@pytest.mark.parametrize("every", [1, 7, 60])
def test_how_often_somebody_looks_changes_nothing(tmp_path: Path, every: int) -> None:
    with Store.open(tmp_path, writer=True) as store:
        stage = Stage(store)
        open_job(stage)
        stage.say(0, "step-start", vehicle="V-1", step="clear-1")
        for second in range(0, 600, 5):
            humid = 85.0 if 100 <= second < 130 or 200 <= second < 400 else 45.0
            stage.air([second], "spray", look=False, humidity=None if 450 <= second < 520 else humid)
            if second % (5 * every) == 0:
                stage.look(second)
        stage.look(600)
        seen = [one[:3] for one in stage.alarms() if "dew_point" not in one[0] and "/care/" not in one[0]]
        assert sorted(seen, key=lambda one: one[2]) == [
            ("V-1/1/clear-1/relative_humidity", "unacknowledged", 110),
            ("V-1/1/clear-1/relative_humidity", "returned_unacknowledged", 150),
            ("V-1/1/clear-1/relative_humidity", "unacknowledged", 210),
            ("V-1/1/clear-1/relative_humidity", "unacknowledged", 260),
            ("south/humidity/stale", "unacknowledged", 485),
            ("south/humidity/stale", "returned_unacknowledged", 540),
        ]


# The trend and the silent point


def test_a_falling_temperature_is_told_before_it_is_out(stage: Stage) -> None:
    """0.25 K a minute from 24 °C: 20 °C after 16 min. Ten minutes before, there is a trend of more than five minutes."""
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, 600, 5), "spray", air_temperature=lambda second: round(24 - second / 240, 1), humidity=30.0)
    first = stage.alarms("clear-1/air_temperature")[0]
    assert first[1] == "unacknowledged" and first[3] == "warning"
    assert 360 <= first[2] <= 420
    [message] = [m for _, m in stage.ears.heard if m["requirement"] == "clear-1/air_temperature"]
    assert "at this rate it crosses 20.0 °C in about" in message["sentence"]


def test_a_point_that_nobody_needs_may_be_silent_and_the_mode_is_maintenances(stage: Stage) -> None:
    open_job(stage)
    stage.air(range(0, 100, 5), "idle", filter_drop=None, part_2=None, humidity=None)
    assert stage.alarms("stale") == []
    for second in range(100, 300, 5):
        stage.look(second)
    told = {m["alarm"]: m["audience"] for _, m in stage.ears.heard}
    assert {name: told[f"south/{name}/stale"] for name in ("mode", "gun-1", "gun-2")} == dict.fromkeys(
        ("mode", "gun-1", "gun-2"), "maintenance"
    )
    # What the next step will need is the painter's already; what nobody needs is one piece of news for the whole booth.
    assert told["south/air-velocity/stale"] == "painter" and told["south/stale"] == "maintenance"
    assert not {f"south/{name}/stale" for name in ("filter-drop", "part-2", "exhaust-flow")} & set(told)


def test_a_silent_point_that_the_step_needs_is_the_painters(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, 200, 5), "spray", humidity=None)
    told = {m["alarm"]: m["audience"] for _, m in stage.ears.heard if "stale" in m["alarm"]}
    assert told == {"south/humidity/stale": "painter"}
    stage.air(range(200, 260, 5), "spray")
    assert stage.alarms("stale")[-1][1] == "returned_unacknowledged"
