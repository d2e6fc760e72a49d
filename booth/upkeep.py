"""What a running logger does for its store beside logging: seals closed hours, deletes old readings where the site asks for it.

A thread with a connection of its own. An hour of one point is one transaction, and after each it stands back for as long as that
took to prepare and at least PAUSE_S, so that a commit of the logger never waits for more than one of them.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from booth.clocks import Clock, TickClock
from booth.retention import Pruned, before, prune
from booth.shop.shop import Shop
from booth.store import Store, StoreError
from booth.times import HOUR

EVERY_S = 300.0
PAUSE_S = 0.2
STOP_S = 10.0

log = logging.getLogger(__name__)


class Upkeep:
    """Keeps one store in order until stopped."""

    def __init__(self, shop: Shop, directory: Path, clock: Clock, every_s: float = EVERY_S, pause_s: float = PAUSE_S) -> None:
        self._shop, self._directory, self._clock = shop, directory, clock
        self._every_s, self._pause_s = every_s, pause_s
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="upkeep", daemon=True)
        self._last = time.monotonic()
        self._pruned_to: int | None = None  # hours since 1970
        self.longest_lock_s = 0.0
        self.turns = 0
        self.problem: str | None = None

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Ends after the hour that it is at; killed there, that hour is still hot or sealed."""
        self._stopping.set()
        if self._thread.ident is not None:
            self._thread.join(STOP_S)

    def turn(self) -> None:
        """Seal and delete what there is to. Raises StoreError."""
        now = self._clock.now()
        with Store.open(self._directory) as store:  # anew each time: it holds nothing open while it rests
            self._last = time.monotonic()
            sealed = store.readings.seal(now, self._shop.site.store.seal_after, self._enough)
            deleted = self._prune(store, now)
        self.longest_lock_s = max(self.longest_lock_s, sealed.longest_lock_s, deleted.longest_lock_s)
        if deleted.stretches:
            count = sum(stretch.count for stretch in deleted.stretches)
            log.warning("%d readings that no record needs were deleted, as site.toml says ([store] keep_readings)", count)

    def _prune(self, store: Store, now: int) -> Pruned:
        """Whole hours are deleted, so once an hour is enough: what records need takes the whole journal to tell."""
        limit = before(self._shop, store, now)
        hour = None if limit is None else limit // HOUR
        if hour is None or hour == self._pruned_to:
            return Pruned((), 0.0)
        done = prune(self._shop, store, now, self._enough)
        self._pruned_to = hour
        return done

    def _enough(self) -> bool:
        """Stand back, then tell whether to end."""
        worked = time.monotonic() - self._last
        self._stopping.wait(max(self._pause_s, worked))
        self._last = time.monotonic()
        return self._stopping.is_set()

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                self.turn()
                self.problem = None
            except StoreError as problem:
                self._complain(str(problem))
            except Exception as fault:  # never silently: an unsealed store only grows, but somebody must know
                self._complain(f"a fault in the upkeep of the store: {fault!r}")
            self.turns += 1
            self._stopping.wait(self._every_s)

    def _complain(self, sentence: str) -> None:
        if sentence != self.problem:
            log.warning("readings are not being sealed: %s", sentence)
        self.problem = sentence


@contextmanager
def keeping_up(shop: Shop, directory: Path, clock: Clock) -> Iterator[None]:
    """Keeps a store in order while the block runs; not where time is a plant's ticks, which may run a day in a minute."""
    if isinstance(clock, TickClock):
        yield
        return
    upkeep = Upkeep(shop, directory, clock)
    upkeep.start()
    try:
        yield
    finally:
        upkeep.stop()
