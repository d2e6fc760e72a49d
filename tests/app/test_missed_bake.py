"""A missed bake window is announced within a second of the moment it is missed, whether or not any sensor speaks."""

from __future__ import annotations

from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

import pytest
from plants import Ears, demo_shop, received

from booth.clocks import TickClock
from booth.logger import Logger
from booth.store import Store
from booth.times import MINUTE, SECOND, format_time, parse_time

START = parse_time("2026-07-13T12:00:00Z")
COAT_END = START + 20 * MINUTE
LATEST = COAT_END + 30 * MINUTE  # two-pack clear: the bake starts 10 to 30 min after the last coat


class PatientClock:
    """Moves only when the reader waits, by half a second each time."""

    def __init__(self, start: int) -> None:
        self.us = start

    def now(self) -> int:
        return self.us


class SilentReader:
    """Gives some events at the start and then nothing, while time passes; stops the logger at an end."""

    def __init__(self, clock: PatientClock, messages: list, end: int) -> None:
        self.clock, self.messages, self.end = clock, list(messages), end
        self.acknowledged = 0
        self.logger: Logger | None = None

    def get(self, timeout: float):
        if self.messages and self.messages[0].arrived <= self.clock.us:
            return self.messages.pop(0)
        self.clock.us += round(min(timeout, 0.5) * SECOND) if timeout > 0 else 0
        if self.clock.us >= self.end:
            self.logger.stopping.set()
        return None

    def acknowledge(self, received) -> None:
        self.acknowledged += 1

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        """Nobody listens."""


def event(kind: str, us: int, **facts: object):
    identity = str(uuid5(NAMESPACE_URL, f"{kind}/{us}/{facts}"))
    body = {"id": identity, "event": kind, "time": format_time(us), "by": "badge-17", **facts}
    return received("shop/south/event", body, us)


def story() -> list:
    """One coat, the last before the bake, and then nobody does anything."""
    van = {"vehicle": "V-1"}
    return [
        event("job-open", START - MINUTE, **van, process="standard"),
        event("load", START - MINUTE, vans=[{"vehicle": "V-1", "guns": ["gun-1"], "probes": {"part-1": "lower"}}]),
        event("step-start", START, **van, step="clear-2"),
        event("step-end", COAT_END, **van, step="clear-2"),
    ]


def run(store: Store, end: int, clock_start: int = START - 2 * MINUTE, messages: list | None = None) -> Ears:
    ears, clock = Ears(), PatientClock(clock_start)
    reader = SilentReader(clock, story() if messages is None else messages, end)
    logger = Logger(demo_shop(), store, clock, [ears])
    reader.logger = logger
    heard_at = []
    logger.listeners.append(lambda _logger, now: heard_at.append((now, len(ears.heard))))
    logger.run(reader)
    ears.heard_at = heard_at
    return ears


def first_time(ears: Ears, state: str, priority: str, requirement: str = "bake/bake_start") -> int | None:
    """The clock's time when this was first announced."""
    for index, (_, message) in enumerate(ears.heard):
        if (message["requirement"], message["state"], message["priority"]) == (requirement, state, priority):
            return next(now for now, count in ears.heard_at if count > index)
    return None


def test_it_is_announced_within_a_second_although_every_sensor_is_silent(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        ears = run(store, LATEST + 2 * MINUTE)
    announced = first_time(ears, "unacknowledged", "alarm")
    assert announced is not None and 0 < announced - LATEST <= SECOND
    message = next(m for _, m in ears.heard if m["priority"] == "alarm" and m["requirement"] == "bake/bake_start")
    assert message["raised"] == format_time(LATEST)
    assert message["vehicle"] == "V-1" and "too late" in message["sentence"]
    assert message["what_to_do"] == demo_shop().processes["standard"].what_to_do["bake_start"]


def test_a_warning_comes_before_and_nothing_comes_early(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        ears = run(store, LATEST - SECOND)
    warned = first_time(ears, "unacknowledged", "warning")
    before, button = demo_shop().site.alarms.warn_before, demo_shop().site.judging.entered_within
    assert warned is not None and 0 <= warned - (LATEST - button - before) <= SECOND
    assert first_time(ears, "unacknowledged", "alarm") is None


@pytest.mark.parametrize("stop", [LATEST - 20 * MINUTE, LATEST - SECOND, LATEST + SECOND])
def test_a_restart_in_the_middle_changes_nothing(tmp_path: Path, stop: int) -> None:
    with Store.open(tmp_path / "whole", writer=True) as store:
        run(store, LATEST + MINUTE)
        whole = alarm_entries(store)
    with Store.open(tmp_path / "cut", writer=True) as store:
        run(store, stop)
    with Store.open(tmp_path / "cut", writer=True) as store:
        run(store, LATEST + MINUTE, clock_start=stop, messages=[])
        assert alarm_entries(store) == whole


def alarm_entries(store: Store) -> list[tuple]:
    return [(e.body["alarm"], e.body["from"], e.body["to"], e.body["at"]) for e in store.journal.entries(kinds=["alarm"])]


def test_a_bake_that_began_in_time_is_not_late_even_while_its_reading_is_young(tmp_path: Path) -> None:
    """The mode says bake just before the window closes: no alarm, although the entry is written only half a minute later."""
    clock = TickClock(START - 2 * MINUTE)
    ears = Ears()
    with Store.open(tmp_path, writer=True) as store:
        logger = Logger(demo_shop(), store, clock, [ears])
        for message in story():
            clock.set(message.arrived)
            logger.handle([message], clock.now(), lambda _message: None)
        for us in range(COAT_END, LATEST + 3 * MINUTE, 5 * SECOND):
            clock.set(us)
            word = "bake" if us >= LATEST - 15 * SECOND else "flash"
            body = {"time": format_time(us), "value": word, "unit": ""}
            logger.handle([received("shop/south/mode", body, us)], us, lambda _message: None)
            logger.look(us)
    assert not [m for _, m in ears.heard if m["requirement"] == "bake/bake_start" and m["priority"] == "alarm"]


def test_an_acknowledgement_is_journalled_under_its_name_and_only_once(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        run(store, LATEST + MINUTE)
        clock = TickClock(LATEST + 2 * MINUTE)
        ears = Ears()
        logger = Logger(demo_shop(), store, clock, [ears])
        for _ in range(2):
            twice = event("acknowledge", LATEST + 2 * MINUTE, alarm="V-1/1/bake/bake_start")
            logger.handle([twice], clock.now(), lambda _message: None)
        logger.look(clock.now())
        moves = [e for e in store.journal.entries(kinds=["alarm"]) if e.body["cause"] == "acknowledge"]
        assert [(e.body["to"], e.private["by"]) for e in moves] == [("acknowledged", "badge-17")]
        assert ears.heard[-1][1]["state"] == "acknowledged"
