"""Clocks that are put back an hour, or forward a day: of the machine under a running logger, and of an instrument."""

from __future__ import annotations

import json
import logging
from pathlib import Path

import pytest

from booth.clocks import ClockStep, SystemClock
from booth.logger import Logger
from booth.readers.received import Received, SessionLost
from booth.store import Store
from booth.times import HOUR, MINUTE, SECOND, format_time, parse_time
from tests.app.plants import Ears, demo_shop, received
from tests.faults.compare import findings, keys, problems
from tests.faults.killing import undisturbed
from tests.faults.plant import Message, story

DAY = 24 * HOUR
START = parse_time("2026-07-13T10:55:00Z")


class Machine:
    """A machine whose clock can be set; what really passes, nobody can."""

    def __init__(self) -> None:
        self.real, self.wrong = START, 0
        self.clock = SystemClock(wall=lambda: self.real + self.wrong, counter=lambda: self.real - START)

    def error(self) -> int:
        return self.clock.now() - self.real


def test_a_step_back_is_told_and_not_followed() -> None:
    machine = Machine()
    machine.wrong = -HOUR
    assert (machine.error(), machine.clock.held) == (0, True)
    machine.real += 10 * MINUTE
    assert machine.error() == 0
    [step] = machine.clock.steps()
    assert step == ClockStep(START, START - HOUR, followed=False)
    assert "put back by 1 h 00 min, from 2026-07-13T10:55:00.000Z to 2026-07-13T09:55:00.000Z; logging goes on" in str(step)
    machine.wrong = 0
    assert (machine.error(), machine.clock.held) == (0, False)
    assert [step.followed for step in machine.clock.steps()] == [True]
    assert machine.clock.steps() == []


def test_a_step_forward_is_followed_and_so_is_its_being_taken_back() -> None:
    machine = Machine()
    machine.wrong = DAY
    assert (machine.error(), machine.clock.held) == (DAY, False)
    machine.real += 3 * HOUR
    machine.wrong = 10 * SECOND  # put right, and not to the second
    assert (machine.error(), machine.clock.held) == (10 * SECOND, False)
    machine.wrong -= HOUR
    assert (machine.error(), machine.clock.held) == (10 * SECOND, True)
    assert [step.followed for step in machine.clock.steps()] == [True, True, False]


def test_what_a_time_server_does_is_no_step() -> None:
    machine = Machine()
    for second in range(1000):
        machine.real += SECOND
        machine.wrong = -second * 500  # half a millisecond each second, as adjtime does
        assert machine.error() == machine.wrong
    assert machine.clock.steps() == []


class Line:
    """The story, tick by tick, each thing said when it really happens; `steps`: when the clock is put wrong, and by how much."""

    def __init__(self, machine: Machine, steps: dict[int, int]) -> None:
        self.machine, self.steps = machine, dict(steps)
        self.waiting = list(reversed(story()))
        self.acknowledged = 0
        self.logger: Logger | None = None

    def get(self, timeout: float) -> Received | SessionLost | None:
        if not self.waiting:
            self.logger.stopping.set()
            return None
        message = self.waiting.pop()
        if message.is_reading or message.is_event:
            return received(message.topic, message.body, self.machine.clock.now())
        self.machine.real = parse_time(message.body["time"])  # the batch is complete, and is taken now
        for when in [when for when in self.steps if START + when <= self.machine.real]:
            self.machine.wrong = self.steps.pop(when)
        return None

    def acknowledge(self, message: Received) -> None:
        self.acknowledged += 1

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        """Nobody listens."""


@pytest.fixture(scope="module")
def expected(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple]:
    return undisturbed(tmp_path_factory.mktemp("undisturbed"))


STEPS = {
    "back an hour": {20 * MINUTE: -HOUR},
    "back an hour and right again": {20 * MINUTE: -HOUR, 30 * MINUTE: 0},
    "forward a day": {38 * MINUTE: DAY},
    "forward a day and right again": {20 * MINUTE: DAY, 22 * MINUTE: 0},
    "a day ahead, then an hour back": {36 * MINUTE: DAY, 38 * MINUTE: DAY - HOUR},
}
HELD = {"back an hour", "a day ahead, then an hour back"}


@pytest.mark.parametrize("case", STEPS)
def test_under_a_running_logger(case: str, tmp_path: Path, expected: dict, caplog: pytest.LogCaptureFixture) -> None:
    """Every reading is kept as sent, nothing is refused, the journal and an alarm tell of it, and judging goes on."""
    machine, ears = Machine(), Ears()
    line = Line(machine, STEPS[case])
    with Store.open(tmp_path, writer=True) as store, caplog.at_level(logging.CRITICAL):
        line.logger = Logger(demo_shop(), store, machine.clock, [ears])
        line.logger.run(line)
        told = [entry.body["followed"] for entry in store.journal.entries(kinds=["clock-step"])]
        assert len(told) == len(STEPS[case])
        assert told[-1] == (case not in HELD)
        assert store.quarantine.counts() == {}
        assert list(line.logger.problems) == (["clock"] if case in HELD else [])
    assert len(caplog.messages) == len(told)
    assert all("the machine's clock was put" in message for message in caplog.messages), caplog.messages
    states = [message["state"] for topic, message in ears.heard if topic == "shop/logger/alarm/clock"]
    assert states == ["unacknowledged", "normal"][: told.count(False) + ("back an hour and right" in case)]
    sent = keys(story())
    assert problems(tmp_path, sent, sent) == []
    _compare(findings(tmp_path), expected, ahead=DAY in STEPS[case].values())


def _compare(found: dict[str, str], expected: dict[str, str], ahead: bool) -> None:
    """The same findings; where the machine was a day ahead of all instruments, unproven at worst."""
    assert found.keys() == expected.keys()
    for name in expected:
        assert found[name] == expected[name] or (ahead and json.loads(found[name])["verdict"] == "unproven"), name


def test_an_instruments_clock(tmp_path: Path) -> None:
    """Behind: kept as sent, never restamped. Ahead: it can't be true, so it is set aside and counted."""
    machine = Machine()
    with Store.open(tmp_path, writer=True) as store:
        logger = Logger(demo_shop(), store, machine.clock)
        times = [START - HOUR, START - DAY, START, START + HOUR, START + DAY]
        sent = [Message("shop/south/air-temperature", {"time": format_time(t), "value": 21.5, "unit": "degC"}) for t in times]
        logger.handle([received(one.topic, one.body, START) for one in sent], START, lambda _message: None)
        assert [row.time for row in store.readings.rows("south/air-temperature", 0, 2**62)] == sorted(times[:3])
        assert {row.arrived for row in store.readings.rows("south/air-temperature", 0, 2**62)} == {START}
        assert store.quarantine.counts() == {"future_time": 2}


def test_time_is_looked_at_though_nothing_comes_and_the_clock_went_back(tmp_path: Path) -> None:
    """A clock of another kind, which does go back: the next look doesn't wait until it has caught up."""

    class Unsteady:
        us = START

        def now(self) -> int:
            return self.us

    class Silence:
        def get(self, timeout: float) -> None:
            assert timeout <= 0.5

        def acknowledge(self, message: Received) -> None: ...

        def publish(self, topic: str, payload: bytes, retain: bool = False) -> None: ...

    clock, looks = Unsteady(), []
    with Store.open(tmp_path, writer=True) as store:
        logger = Logger(demo_shop(), store, clock)

        def look(_logger: Logger, now: int) -> None:
            looks.append(now)
            clock.us += -HOUR if len(looks) == 1 else SECOND
            if len(looks) == 3:
                logger.stopping.set()

        logger.listeners.append(look)
        logger.run(Silence())
    assert looks == [START, START - HOUR, START - HOUR + SECOND]
