"""The loop itself: a fault in judging, or a disk that refuses for a while, costs no reading and no acknowledgement too many."""

from __future__ import annotations

import logging
from pathlib import Path

import pytest
from plants import demo_shop, received

from booth.clocks import TickClock
from booth.logger import MOST_AT_ONCE, Logger
from booth.readers.received import Received
from booth.store import Store, StoreError
from booth.times import SECOND, format_time, parse_time
from booth.watch import Watch

START = parse_time("2026-07-13T12:00:00Z")
COUNT = 60


class Patient:
    """A clock that isn't a TickClock."""

    def __init__(self) -> None:
        self.us = START

    def now(self) -> int:
        return self.us


class Line:
    """One reading a second, each alone; stops the logger when all have been given."""

    def __init__(self, clock: Patient) -> None:
        self.clock, self.given, self.resting = clock, 0, False
        self.acknowledged: list[str] = []
        self.logger: Logger | None = None

    def get(self, timeout: float) -> Received | None:
        self.resting = not self.resting
        if not self.resting:
            return None
        self.clock.us += SECOND
        if self.given == COUNT:
            self.logger.stopping.set()
            return None
        self.given += 1
        body = {"time": format_time(self.clock.us), "value": 21.0, "unit": "degC"}
        return received("shop/south/air-temperature", body, self.clock.us)

    def acknowledge(self, message: Received) -> None:
        self.acknowledged.append(message.payload.decode())

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        """Nobody listens."""


def a_line(store: Store) -> Line:
    clock = Patient()
    line = Line(clock)
    line.logger = Logger(demo_shop(), store, clock)
    return line


def test_a_fault_in_judging_doesnt_stop_the_logging(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(self: Watch, as_of: int) -> list:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr(Watch, "look", broken)
    with Store.open(tmp_path, writer=True) as store, caplog.at_level(logging.WARNING):
        line = a_line(store)
        line.logger.run(line)
        assert store.readings.counts() == {"south/air-temperature": COUNT}
    assert len(line.acknowledged) == len(set(line.acknowledged)) == COUNT
    assert [record.levelname for record in caplog.records] == ["CRITICAL"]
    assert "nothing is being judged" in caplog.text and "planted" in caplog.text


def test_nothing_is_acknowledged_that_the_disk_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("booth.logger.RETRY_S", 0.0)
    with Store.open(tmp_path, writer=True) as store, caplog.at_level(logging.WARNING):
        append, refusals, line = store.readings.append, [10], a_line(store)

        def full(batch):
            if refusals[0] and store.readings.counts().get("south/air-temperature", 0) >= 20:
                refusals[0] -= 1
                assert len(line.acknowledged) == sum(store.readings.counts().values())
                raise StoreError("the disk is full")
            return append(batch)

        monkeypatch.setattr(store.readings, "append", full)
        line.logger.run(line)
        assert refusals == [0]
        assert store.readings.counts() == {"south/air-temperature": COUNT}
    assert len(line.acknowledged) == len(set(line.acknowledged)) == COUNT
    assert line.logger.counts.readings == COUNT and line.logger.counts.duplicates == 0
    assert [record.levelname for record in caplog.records] == ["CRITICAL", "WARNING"]


def test_what_went_wrong_after_the_commit_isnt_committed_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The memory of the newest readings can't be brought up to date: it is read anew, and the batch isn't taken again."""
    with Store.open(tmp_path, writer=True) as store:
        logger = Logger(demo_shop(), store, TickClock(START))
        late = [received("shop/south/mode", {"time": format_time(START + n * SECOND), "value": "bake"}, START) for n in (2, 1)]
        logger.watch.readings.latest("south/mode")
        logger.handle(late[:1], START, lambda _message: None)
        evidence, failures = store.readings.evidence, [1]

        def failing(*wanted):
            if failures and failures.pop():
                raise StoreError("the disk reports an error")
            return evidence(*wanted)

        monkeypatch.setattr(store.readings, "evidence", failing)
        logger.handle(late[1:], START, lambda _message: None)
        assert not failures
        assert len(logger.watch.readings.evidence("south/mode", START, START + 9 * SECOND, 0)) == 2
        assert logger.counts.readings == 2 and logger.counts.duplicates == 0


class Backlog:
    """Full batches without a pause, a tenth of a second each, then a few readings more; stops the logger behind them."""

    def __init__(self, clock: Patient, full_batches: int) -> None:
        self.clock, self.given, self.count = clock, 0, full_batches * MOST_AT_ONCE + 3
        self.logger: Logger | None = None
        self.over = False

    def get(self, timeout: float) -> Received | None:
        if self.given == self.count:
            if self.over:  # what was given last has been kept
                self.logger.stopping.set()
            self.over = True
            return None
        self.given += 1
        if self.given % MOST_AT_ONCE == 0:
            self.clock.us += SECOND // 10
        body = {"time": format_time(START + self.given), "value": 21.0, "unit": "degC"}
        return received("shop/south/air-temperature", body, self.clock.us)

    def acknowledge(self, message: Received) -> None:
        """Nobody asks."""

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        """Nobody listens."""


def test_while_it_is_behind_it_keeps_first_and_judges_every_half_second(tmp_path: Path) -> None:
    clock = Patient()
    with Store.open(tmp_path, writer=True) as store:
        backlog = Backlog(clock, full_batches=12)
        logger = backlog.logger = Logger(demo_shop(), store, clock)
        looked: list[int] = []
        logger.listeners.append(lambda _logger, now: looked.append((now - START) * 10 // SECOND))
        logger.run(backlog)
        assert store.readings.counts() == {"south/air-temperature": backlog.count}
    assert looked == [1, 6, 11, 12]  # tenths of a second; the last is that of the batch that caught up
