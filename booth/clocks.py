"""The clock is an argument: the machine's own, or the last tick of a plant that runs faster than life."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from booth.times import MINUTE, SECOND, duration_text, format_time

STEP_US = 2 * SECOND  # less is how a time server keeps a clock right
_TAKEN_BACK_US = MINUTE  # a clock that was put forward and back again may have been off by this much meanwhile


class Clock(Protocol):
    def now(self) -> int:
        """Microseconds UTC."""
        ...


@dataclass(frozen=True)
class ClockStep:
    """Somebody put the machine's clock from `before` to `after`, microseconds UTC; `followed`: whether we go by the new time."""

    before: int
    after: int
    followed: bool

    def __str__(self) -> str:
        by, way = duration_text(abs(self.after - self.before)), "forward" if self.after > self.before else "back"
        said = f"the machine's clock was put {way} by {by}, from {format_time(self.before)} to {format_time(self.after)}"
        if self.followed:
            return f"{said}; check that it is right now, and that it has a time server"
        return f"{said}; logging goes on by the time before: put the clock right, or restart the logger if it is right now"


class SystemClock:
    """The machine's clock, which never goes back while the logger runs.

    A step forward is followed: mostly a time server has put right a clock that was wrong since the machine was switched on. A
    step back is not, for what is measured now would then be from the future and be refused, and every window would wait. Time
    goes on from where it was, by a counter that nobody can set, until the clock is right again or the logger is restarted. A step
    forward that is taken back is followed, too. For any thread.
    """

    def __init__(
        self, wall: Callable[[], int] = lambda: time.time_ns() // 1000, counter: Callable[[], int] = lambda: _count()
    ) -> None:
        self._wall, self._counter = wall, counter
        self._lock = threading.Lock()
        self._steps: list[ClockStep] = []
        self._offset = self._seen = wall() - counter()  # of the time that we go by, and of the machine's, from the counter
        self._before: int | None = None  # our offset before the last step forward

    def now(self) -> int:
        with self._lock:
            wall, count = self._wall(), self._counter()
            seen, self._seen = self._seen, wall - count
            if abs(self._seen - seen) > STEP_US:
                followed = self._follows()
                self._steps.append(ClockStep(count + seen, wall, followed))
            if abs(self._seen - self._offset) <= STEP_US:
                self._offset = self._seen
            return count + self._offset

    def steps(self) -> list[ClockStep]:
        """What was done to it since this was asked last."""
        with self._lock:
            steps, self._steps = self._steps, []
            return steps

    @property
    def held(self) -> bool:
        """Whether we go by another time than the machine does."""
        return abs(self._seen - self._offset) > STEP_US

    def _follows(self) -> bool:
        """Decide on a step, and take the new time where it is followed."""
        taken_back = self._before is not None and abs(self._seen - self._before) <= _TAKEN_BACK_US
        if self._seen > self._offset + STEP_US:
            self._before, self._offset = self._offset, self._seen
        elif taken_back:
            self._before, self._offset = None, self._seen
        return not self.held


class TickClock:
    """A clock that stands still until somebody sets it (accelerated runs, tests)."""

    def __init__(self, start: int = SECOND) -> None:
        self._now = start

    def now(self) -> int:
        return self._now

    def set(self, us: int) -> None:
        """Move to a tick; an older one changes nothing, since a tick may be delivered twice."""
        self._now = max(self._now, us)


def _count() -> int:
    """Microseconds that nobody can set; where the system can tell, they go on while the machine sleeps."""
    which = getattr(time, "CLOCK_BOOTTIME", None)
    return (time.monotonic_ns() if which is None else time.clock_gettime_ns(which)) // 1000
