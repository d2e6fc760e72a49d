"""The loop: send what was committed since, oldest first; move on only after the server keeps it; when it doesn't, wait.

Every turn does a little of three things: readings newer than the place reached, journal entries, and a look at the past for
readings that came late.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path

from booth.mirror.arrivals import Arrivals
from booth.mirror.delivery import Delivery, Writes
from booth.mirror.lines import KINDS, entry_lines, reading_lines
from booth.mirror.memory import Memory, Moment
from booth.mirror.server import Server, Unavailable
from booth.mirror.settings import Settings
from booth.store import Entry, Reading, StoreError
from booth.times import DAY, HOUR

BATCH = 1000  # lines in one write
LOAD = 5000  # readings taken from the store at once
POLL_S = 1.0
LONGEST_PAUSE_S = 60.0  # between two tries of a server that doesn't answer
DAMAGE_PAUSE_S = 5.0  # while a part of the store can't be read; the other part goes on
LOOK_BACK_S = 0.05  # in each turn: at one turn a second a twentieth of one processor
BEGINNING = -(2**62)

log = logging.getLogger(__name__)


class Mirror:
    """One mirror of one store. `now` gives microseconds UTC."""

    def __init__(self, settings: Settings, arrivals: Arrivals, memory: Memory, server: Writes, now: Callable[[], int]) -> None:
        self._settings, self._arrivals, self._memory, self._now = settings, arrivals, memory, now
        self._delivery = Delivery(settings, server, memory, now)
        self._days: list[tuple[int, str]] = []  # still to be looked at for late readings, the last one first
        self._pause_s = POLL_S
        self._begin_anew_if_another_store()

    def attempt(self) -> float:
        """One turn, whatever happens in it. Returns after how many seconds to come again."""
        try:
            more = self.turn()
        except Unavailable as problem:
            wait = self._pause_s if problem.wait_s is None else max(problem.wait_s, POLL_S)
            self._pause_s = min(self._pause_s * 2, LONGEST_PAUSE_S)
            return self._complain(str(problem), wait)
        except StoreError as problem:
            return self._complain(str(problem), DAMAGE_PAUSE_S)
        self._pause_s = POLL_S
        self._quiet_down()
        return 0.0 if more else POLL_S

    def turn(self) -> bool:
        """Send something of everything; true if there is more at once. Raises Unavailable, and StoreError after trying each."""
        problem, more = None, False
        for step in (self._send_readings, self._send_entries, self._send_late):
            try:
                more |= step()
            except StoreError as damage:  # a damaged journal keeps no reading back, nor the other way round
                problem = damage
        if problem is not None:
            raise problem
        return more

    def _send_readings(self) -> bool:
        """A load of readings; the points that are furthest behind come first, so that all catch up together."""
        load: list[Moment] = []
        places = self._memory.places
        for point in sorted(self._arrivals.points(), key=lambda name: places.get(name, BEGINNING)):
            newer = self._arrivals.after(point, places.get(point, BEGINNING))
            load += map(self._moment, islice(newer, LOAD - len(load)))
            if len(load) >= LOAD:
                break
        for batch in _batches(load):
            self._deliver(batch)
            self._memory.sent_readings(batch, self._now())
        return len(load) >= LOAD

    def _send_entries(self) -> bool:
        """Journal entries of the kinds that are mirrored; the others are passed over."""
        done = self._memory.state().entries
        head = self._arrivals.store.journal.head()
        if head.entries <= done:
            return False
        found = list(islice(self._arrivals.store.journal.entries(after=done, kinds=KINDS), BATCH))
        found = [entry for entry in found if entry.seq <= head.entries]
        lines = [line for entry in found for line in self._entry_lines(entry)]
        for start in range(0, len(lines), BATCH):
            self._delivery.send(lines[start : start + BATCH])
        full = len(found) == BATCH
        last = (found[-1].seq, found[-1].hash) if full else (head.entries, head.hash)
        self._memory.sent_entries(*last, self._now() if lines else None)
        return full

    def _entry_lines(self, entry: Entry) -> list[str]:
        try:
            return entry_lines(self._settings, entry)
        except (AttributeError, KeyError, TypeError, ValueError) as problem:
            reason = f"its body isn't that of a {entry.kind}: {problem!r}"
            self._memory.set_aside(f"journal entry {entry.seq}", reason, self._now())
            return []

    def _send_late(self) -> bool:
        """Look for late readings for a little while, the newest days first; send their hours again."""
        if not self._days:
            self._days = sorted(self._past())
        end = time.monotonic() + LOOK_BACK_S
        while self._days and time.monotonic() < end:
            day, point = self._days.pop()
            for hour in self._hours_with_more(point, day):
                self._send_hour(point, hour)
        return False

    def _past(self) -> Iterator[tuple[int, str]]:
        for point, place in self._memory.places.items():
            first = self._arrivals.first(point)
            if first is not None:
                yield from ((day, point) for day in range(first // DAY, place // DAY + 1))

    def _hours_with_more(self, point: str, day: int) -> list[int]:
        place = min((day + 1) * DAY - 1, self._memory.places[point])
        held = self._arrivals.rows_by_hour(point, day * DAY, place)
        sent = self._memory.rows_sent(point, day * 24, (day + 1) * 24)
        return [hour for hour, rows in held.items() if rows > sent.get(hour, 0)]

    def _send_hour(self, point: str, hour: int) -> None:
        end = min((hour + 1) * HOUR, self._memory.places[point] + 1)
        moments = list(map(self._moment, self._arrivals.between(point, hour * HOUR, end)))
        for batch in _batches(moments):
            self._deliver(batch)
        self._memory.sent_hour(point, hour, sum(len(moment.lines) for moment in moments), self._now())

    def _moment(self, readings: list[Reading]) -> Moment:
        return Moment(readings[0].point, readings[0].time, reading_lines(self._settings, readings))

    def _deliver(self, moments: list[Moment]) -> None:
        self._delivery.send([line for moment in moments for line in moment.lines])

    def _begin_anew_if_another_store(self) -> None:
        """A store restored from a backup, or put in the place of another, doesn't have the entry that was sent last."""
        state = self._memory.state()
        if state.entries == 0:
            return
        entry = next(self._arrivals.store.journal.entries(after=state.entries - 1), None)
        if entry is None or entry.hash != state.hash:
            log.warning("the store isn't the one that was mirrored before; all of it is sent again")
            self._memory.forget()

    def _complain(self, sentence: str, wait_s: float) -> float:
        if self._memory.state().problem is None:
            log.warning("the mirror is behind: %s", sentence)
        self._memory.note(sentence, self._now())
        return wait_s

    def _quiet_down(self) -> None:
        if self._memory.state().problem is not None:
            self._memory.note(None, self._now())


def mirror_until(settings: Settings, directory: Path, now: Callable[[], int], stop: Callable[[float], bool]) -> None:
    """Mirror a store until `stop(seconds)`, which waits that long at most, says so. Nothing else ends it."""
    while True:
        try:
            return _mirror(settings, directory, now, stop)
        except StoreError as problem:  # a file that can't be opened or written: for somebody to mend
            log.warning("nothing is mirrored: %s", problem)
        if stop(LONGEST_PAUSE_S):
            return


def _mirror(settings: Settings, directory: Path, now: Callable[[], int], stop: Callable[[float], bool]) -> None:
    with (
        closing(Memory(directory, writer=True)) as memory,
        closing(Arrivals(directory)) as arrivals,
        closing(Server(settings)) as server,
    ):
        mirror = Mirror(settings, arrivals, memory, server, now)
        while not stop(mirror.attempt()):
            pass


def _batches(moments: list[Moment]) -> Iterator[list[Moment]]:
    """About BATCH lines each; a moment is never torn apart."""
    batch: list[Moment] = []
    lines = 0
    for moment in moments:
        batch.append(moment)
        lines += len(moment.lines)
        if lines >= BATCH:
            yield batch
            batch, lines = [], 0
    if batch:
        yield batch
