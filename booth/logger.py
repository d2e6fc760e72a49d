"""The one loop: receive, decode, commit, acknowledge, judge, announce. The only place that holds the clock.

Raw first: what came in is committed before it is acknowledged to the broker, and before anything is made of it, so that a
fault in a rule never costs data.
"""

from __future__ import annotations

import json
import logging
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from booth.alarms.payload import topic
from booth.alarms.transition import Transition
from booth.announcing import Announcer, Notifier
from booth.clocks import Clock, ClockStep, SystemClock, TickClock
from booth.intake import Taken, remember_config, take
from booth.readers.decode import decode
from booth.readers.points import PointMap
from booth.readers.received import Outcome, Received, SessionLost, TickIn
from booth.shop.shop import Shop
from booth.store import Draft, Store, StoreError
from booth.times import SECOND, format_time
from booth.watch import Watch
from booth.wiring import point_map

LOOK_EVERY_S = 0.5
MOST_AT_ONCE = 500  # messages in one commit: large enough to keep up with a backlog, small enough to stay prompt
RETRY_S = 1.0  # after the disk refused
WAIT_S = 0.05  # how long a batch may wait for company: an idle plant still commits within this
TICK_DONE = "shop/clock/done"

log = logging.getLogger(__name__)


class Reader(Protocol):
    """Where messages come from (booth.readers.mqtt, or a test)."""

    def get(self, timeout: float) -> Received | SessionLost | None: ...

    def acknowledge(self, received: Received) -> None: ...

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None: ...


@dataclass
class Counts:
    """What went through since the start."""

    received: int = 0
    readings: int = 0
    duplicates: int = 0
    conflicts: int = 0
    events: int = 0
    repeated_events: int = 0
    quarantined: int = 0

    def add(self, taken: Taken) -> None:
        self.readings += taken.stored.stored
        self.duplicates += taken.stored.duplicates
        self.conflicts += taken.stored.conflicts
        self.events += len(taken.entries)
        self.repeated_events += taken.repeated_events
        self.quarantined += taken.quarantined


class Logger:
    """Takes messages from a reader, keeps them, judges what is open and announces what changed."""

    def __init__(self, shop: Shop, store: Store, clock: Clock, notifiers: Sequence[Notifier] = ()) -> None:
        self.shop, self.store, self.clock, self.notifiers = shop, store, clock, notifiers
        self.counts = Counts()
        self.stopping = threading.Event()
        self.listeners: list[Callable[[Logger, int], None]] = []  # called after each look, for a terminal view
        self.on_first_look: Callable[[], None] | None = None
        self.problems: dict[str, str] = {}  # why there is no recording or judging now, for people
        self._since: dict[str, int] = {}  # when each of them began
        self._steps: list[ClockStep] = []  # of the clock, not written down yet
        self._announcer = Announcer(shop, lambda: self.notifiers)
        self._points: PointMap = point_map(shop)
        self._watch: Watch | None = None

    @property
    def watch(self) -> Watch:
        """Made at the first look, when the clock is known: a lockstep plant's clock isn't ours."""
        if self._watch is None:
            now = self.clock.now()
            remember_config(self.store, self.shop, now)
            self.store.journal.append([Draft("logger-start", {"counts_from": format_time(now)}, now, now, "logger")])
            self._watch = Watch(self.shop, self.store, now)
            if self.on_first_look is not None:
                self.on_first_look()
        return self._watch

    def close(self) -> None:
        """Journal that logging stopped here, so that a later gap has a beginning."""
        if self._watch is not None:
            now = self.clock.now()
            try:
                self.store.journal.append([Draft("logger-stop", {"readings": self.counts.readings}, now, now, "logger")])
            except StoreError as problem:
                log.critical("that logging stopped here could not be written down: %s", problem)

    def run(self, reader: Reader) -> None:
        """Until `stopping` is set. A tick clock is driven by the ticks that the reader brings."""
        lockstep = isinstance(self.clock, TickClock)
        (self._run_in_lockstep if lockstep else self._run_by_the_clock)(reader)

    def handle(self, batch: Sequence[Received | SessionLost], now: int, acknowledge: Callable[[Received], None]) -> None:
        """Commit a batch, acknowledge it in order, and hand its readings to the judge."""
        outcomes = [outcome for message in batch for outcome in self._decoded(message, now)]
        taken = take(self.store, (one for one in outcomes if not isinstance(one, TickIn)), now, "mqtt")
        for message in batch:
            if isinstance(message, Received):
                acknowledge(message)
        self.counts.received += len(batch)
        self.counts.add(taken)
        self.watch.add(taken.readings)

    def look(self, now: int) -> list[Transition]:
        """Judge what is open as of now, and announce what changed."""
        moves = self.watch.look(now)
        for alarm_id in dict.fromkeys(move.alarm_id for move in moves):
            self._announce(alarm_id)
        for listener in self.listeners:
            listener(self, now)
        return moves

    def announce_standing(self) -> list[str]:
        """Say again what stands, after a restart; returns the topics, so that stale ones can be cleared."""
        for alarm_id in self.watch.book.standing():
            self._announce(alarm_id)
        return [topic(alarm) for alarm in self.watch.book.standing().values()]

    def _decoded(self, message: Received | SessionLost, now: int) -> list[Outcome | SessionLost]:
        if isinstance(message, SessionLost):
            return [message]
        arrived = now if isinstance(self.clock, TickClock) else message.arrived
        return list(decode(message.topic, message.payload, arrived, self._points, retained=message.retained))

    def _announce(self, alarm_id: str) -> None:
        self._announcer.alarm(self.watch.book.alarms[alarm_id], alarm_id in self.watch.book.standing())

    def _run_by_the_clock(self, reader: Reader) -> None:
        self._begin()
        looked: int | None = None
        while not self.stopping.is_set():
            batch = self._collect(reader, self._until_next_look(looked))
            if batch:
                self._keep(batch, reader)
            caught_up = len(batch) < MOST_AT_ONCE  # behind, keeping comes first: what a backlog tells is late already
            if (batch and caught_up) or not self._until_next_look(looked):
                self._look_safely(looked := self.clock.now())

    def _until_next_look(self, looked: int | None) -> float:
        """Seconds until the passing of time has to be looked at; at once where the clock went back behind the last look."""
        since = LOOK_EVERY_S if looked is None else (self.clock.now() - looked) / SECOND
        return LOOK_EVERY_S - since if 0 <= since < LOOK_EVERY_S else 0.0

    def _begin(self) -> None:
        """Make the watch; the clock is known by now."""
        self._until_it_works(lambda: self.watch)

    def _keep(self, batch: list, reader: Reader) -> None:
        """Commit; what isn't kept isn't acknowledged."""
        self._until_it_works(
            lambda: self.handle(batch, self.clock.now(), reader.acknowledge), lambda: self._look_safely(self.clock.now())
        )

    def _until_it_works(self, act: Callable[[], object], meanwhile: Callable[[], object] = lambda: None) -> None:
        """Try again while the disk refuses, and say so. `meanwhile`: an alarm needs less space than a batch."""
        while not self.stopping.is_set():
            try:
                act()
                return self._say("recording", None)
            except StoreError as problem:
                self._say("recording", f"nothing is being recorded: {problem}")
                meanwhile()
                self.stopping.wait(RETRY_S)

    def _look_safely(self, now: int) -> None:
        """A fault in judging must not stop the logging."""
        try:
            self._write_down_steps(now)
            self.look(now)
            self._announcer.settle(self.watch.book)
            self._say("judging", None)
        except StoreError as problem:
            self._say("judging", f"no alarm is being written down: {problem}")
            self._tell_unwritten(now)
        except Exception as fault:
            self._say("judging", f"nothing is being judged, because of a fault in the logger: {fault!r}", exc_info=True)

    def _tell_unwritten(self, now: int) -> None:
        try:
            self._announcer.unwritten(self.watch.would_be(now), self.watch.book)
        except Exception:  # the disk may refuse to be read as well
            log.exception("what would be an alarm now can't be told")

    def _write_down_steps(self, now: int) -> None:
        """Journal what was done to the clock; while we don't go by it, that is a problem for people."""
        if not isinstance(self.clock, SystemClock):
            return
        new = self.clock.steps()
        self._steps += new
        for step in new:
            if step.followed:
                log.critical("%s", step)
            self._say("clock", None if step.followed else str(step))
        bodies = [{"before": format_time(s.before), "after": format_time(s.after), "followed": s.followed} for s in self._steps]
        if bodies:
            self.store.journal.append([Draft("clock-step", body, now, now, "logger") for body in bodies])
            self._steps = []

    def _say(self, what: str, problem: str | None, exc_info: bool = False) -> None:
        """Say what is wrong when it begins, and that it is over, not twice a second: in the log, and where alarms go out."""
        known = self.problems.pop(what, None)
        if problem is None and known is not None:
            log.warning("%s again", what)
        elif problem is not None and problem != known:
            log.critical("%s", problem, exc_info=exc_info)
        if problem is not None:
            self.problems[what] = problem
        if (problem is None) != (known is None):
            since = self._since.setdefault(what, self.clock.now())
            self._announcer.trouble(what, problem or known or "", since, over=problem is None)
        if problem is None:
            self._since.pop(what, None)

    def _collect(self, reader: Reader, patience: float) -> list[Received | SessionLost]:
        first = reader.get(patience)
        if first is None:
            return []
        batch, deadline = [first], time.monotonic() + WAIT_S
        while len(batch) < MOST_AT_ONCE and (message := reader.get(max(0.0, deadline - time.monotonic()))) is not None:
            batch.append(message)
        return batch

    def _run_in_lockstep(self, reader: Reader) -> None:
        """Messages gather until their tick comes; then it is that time, for all of them."""
        waiting: list[Received | SessionLost] = []
        while not self.stopping.is_set():
            message = reader.get(LOOK_EVERY_S)
            if message is None:
                continue
            waiting.append(message)
            tick = self._tick(message)
            if tick is not None:
                self.clock.set(tick)
                self._begin()
                self._keep(waiting, reader)
                waiting = []
                self._look_safely(self.clock.now())
                reader.publish(TICK_DONE, json.dumps({"time": format_time(tick)}).encode())

    def _tick(self, message: Received | SessionLost) -> int | None:
        if isinstance(message, SessionLost) or message.topic != self._points.tick_topic:
            return None
        outcomes = decode(message.topic, message.payload, message.arrived, self._points, retained=message.retained)
        return next((one.time for one in outcomes if isinstance(one, TickIn)), None)
