"""Spraying without air is a hazard at once, silence included; and it comes out as one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from plants import Ears, demo_shop, received

from booth.alarms.condition import Condition
from booth.alarms.payload import about_air
from booth.clocks import TickClock
from booth.judge.hazard import without_air
from booth.judge.series import Series
from booth.logger import Logger
from booth.store import Store
from booth.times import SECOND, format_time, parse_time

START = parse_time("2026-07-13T12:00:00Z")
AGE = 15 * SECOND


def series(*values: float, every: int = 5) -> Series:
    return Series(START + np.arange(len(values), dtype=np.int64) * every * SECOND, np.array(values, float), AGE)


def found(guns: list[Series], velocity: Series, seconds: int) -> list[tuple[int, int]]:
    stretches = without_air(guns, velocity, 60, 0.25, START, START + seconds * SECOND)
    return [((one.start - START) // SECOND, (one.end - START) // SECOND) for one in stretches]


def test_only_while_a_gun_is_on_and_the_air_too_slow() -> None:
    velocity = series(0.5, 0.5, 0.2, 0.2, 0.5, 0.5)
    assert found([series(0, 300, 300, 300, 300, 0)], velocity, 30) == [(10, 20)]
    assert found([series(0, 0, 0, 0, 0, 0)], velocity, 30) == []
    assert found([series(*[300] * 6)], series(*[0.25] * 6), 30) == []  # just fast enough
    assert found([series(*[60] * 6)], velocity, 30) == []  # a flow of 60 is still off
    assert found([series(0, 0, 0, 0, 0, 0), series(0, 0, 0, 300, 0, 0)], velocity, 30) == [(15, 20)]


def test_air_that_nobody_measures_is_no_air() -> None:
    assert found([series(*[300] * 10)], series(0.5, 0.5), 50) == [(20, 50)]
    assert found([series(*[300] * 10)], series(), 50) == [(0, 50)]


def test_a_gun_that_was_last_seen_on_is_on() -> None:
    assert found([series(300, 300)], series(*[0.1] * 20), 100) == [(0, 100)]


@pytest.mark.parametrize("lost", [0.1, None])
def test_velocity_lost_while_spraying_is_announced_at_once_and_cant_be_shelved(tmp_path: Path, lost: float | None) -> None:
    """Gun on and the air gone (or its probe silent): hazard, immediate, with what to do; over when the air is back."""
    ears, clock = Ears(), TickClock()
    first = None
    with Store.open(tmp_path, writer=True) as store:
        logger = Logger(demo_shop(), store, clock, [ears])
        for second in range(0, 300, 5):
            now = START + second * SECOND
            clock.set(now)
            logger.watch  # noqa: B018
            velocity = 0.48 if second < 100 or second >= 200 else lost
            sent = {"gun-1": (300, "L/min"), "air-velocity": (velocity, "m/s")}
            batch = [
                received(f"shop/south/{point}", {"time": format_time(now), "value": value, "unit": unit}, now)
                for point, (value, unit) in sent.items()
                if value is not None
            ]
            logger.handle(batch, now, lambda _message: None)
            logger.look(now)
            if first is None and ears.of_the_work():
                first = second
        told = [e.body for e in store.journal.entries(kinds=["alarm"]) if e.body["alarm"] == "south/airflow"]
        entries = [(body["to"], body["at"]) for body in told]
    since = 100 if lost is not None else 95 + 15  # the last good reading speaks for its max_age
    message = ears.of_the_work()[0]
    assert first == since
    assert (message["alarm"], message["priority"], message["state"]) == ("south/airflow", "hazard", "unacknowledged")
    assert message["what_to_do"] == demo_shop().booths["south"].hazard.what_to_do and message["cautions"]
    over = START + 200 * SECOND + demo_shop().site.alarms.off_delay
    assert entries == [
        ("unacknowledged", format_time(START + since * SECOND)),
        ("returned_unacknowledged", format_time(over)),
    ]


@pytest.mark.parametrize(
    ("identity", "requirement", "air"),
    [
        ("V-1/1/sealer/booth:booth_pressure", "sealer/booth:booth_pressure", True),
        ("V-1/1/purge/purge_volumes", "purge/purge_volumes", True),
        ("V-1/1/bake/mode", "bake/mode", True),
        ("south/airflow", "airflow", True),
        ("south/exhaust-flow/stale", "stale", True),
        ("south/humidity/stale", "stale", True),
        ("south/part-1/stale", "stale", False),
        ("V-1/1/bake/part_temperature", "bake/part_temperature", False),
        ("V-1/1/clear-1/pot_life", "clear-1/pot_life", False),
    ],
)
def test_alarms_about_air_carry_the_cautions(identity: str, requirement: str, air: bool) -> None:
    """Nobody may take one for a word on what they breathe."""
    condition = Condition(id=identity, booth="south", requirement=requirement, priority="warning", sentence="", since=START)
    assert about_air(condition, demo_shop()) is air
