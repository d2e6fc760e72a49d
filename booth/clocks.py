"""The clock is an argument: the machine's own, or the last tick of a plant that runs faster than life."""

from __future__ import annotations

import time
from typing import Protocol

from booth.times import SECOND


class Clock(Protocol):
    def now(self) -> int:
        """Microseconds UTC."""
        ...


class SystemClock:
    """The machine's clock."""

    def now(self) -> int:
        return time.time_ns() // 1000


class TickClock:
    """A clock that stands still until somebody sets it (accelerated runs, tests)."""

    def __init__(self, start: int = SECOND) -> None:
        self._now = start

    def now(self) -> int:
        return self._now

    def set(self, us: int) -> None:
        """Move to a tick; an older one changes nothing, since a tick may be delivered twice."""
        self._now = max(self._now, us)
