"""The board's own eyes: a thread that follows the store and holds, for every booth, the newest snapshot.

It reads only. Twenty screens cost one look and one snapshot of each booth a second: they all are given the same one.
"""

from __future__ import annotations

import asyncio
import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from booth.clocks import Clock, TickClock
from booth.looker import Looker
from booth.shop.promises import Promises
from booth.shop.shop import Shop
from booth.store import Reading, Store, StoreError
from booth.web.painter.arrivals import Arrivals
from booth.web.painter.snapshot import Scene, booths_shown, snapshot

if TYPE_CHECKING:
    from booth.web.board import Board

FOLLOW_EVERY_S = 0.2
LOOK_EVERY_S = 1.0
AT_ONCE_S = 0.5  # not sooner after the last look, however fast readings come
QUIET_S = 5.0  # a plant that drives the clock has stopped when nothing has come for this long

log = logging.getLogger(__name__)


class Eyes:
    """What the thread does, step by step, without the thread: for one store, used where it was opened."""

    def __init__(self, shop: Shop, store: Store, clock: Clock, seconds: Callable[[], float] = time.monotonic) -> None:
        self.shop, self.store, self.clock, self._seconds = shop, store, clock, seconds
        start = clock.now()
        self._arrivals = Arrivals(store.readings, start)
        self._looker = Looker(shop, store, self._now())
        self._newest: dict[str, Reading] = {}
        for booth_id, booth in shop.booths.items():
            for name in booth.points:
                self._take_newest(store.readings.latest(f"{booth_id}/{name}"))
        self._promises: dict[int, Promises] = {}
        self._entries = 0
        self._stopped: int | None = None
        self.outdated = False  # the journal goes on under another configuration than this one
        self._looked_at: float | None = None
        self._heard_at, self._waiting = seconds(), False

    def follow(self) -> dict[str, dict[str, Any]] | None:
        """New snapshots by booth; None where nothing came and it isn't time for a look yet."""
        fresh = self._arrivals.new(self.clock.now())
        for one in fresh:
            self._take_newest(one)
        if fresh:
            self._looker.add(fresh)
            self._heard_at, self._waiting = self._seconds(), True
        entries = self.store.journal.head().entries
        if not self._is_time(entries != self._entries):
            return None
        if entries != self._entries:
            self._hear_logger()
            self._entries = entries
        self._looked_at, self._waiting = self._seconds(), False
        return self._look(self._now())

    def _is_time(self, said: bool) -> bool:
        """For a look: what people say is seen at once, readings in half a second, and the passing of time each second."""
        if self._looked_at is None or said:
            return True
        since = self._seconds() - self._looked_at
        return since >= (AT_ONCE_S if self._waiting else LOOK_EVERY_S)

    def _look(self, now: int) -> dict[str, dict[str, Any]]:
        sight = self._looker.see(now)
        for live, _ in sight.judged:
            self._promises.setdefault(id(live.shop), Promises(live.shop))
        scene = Scene(
            shop=self.shop,
            ledger=self._looker.ledger,
            readings=self._looker.readings,
            judged=sight.judged,
            book=self._looker.book,
            newest=self._newest,
            as_of=now,
            arrived=self._arrivals.arrived,
            stopped=self._stopped,
            quiet=isinstance(self.clock, TickClock) and self._seconds() - self._heard_at > QUIET_S,
            promises=self._promises,
        )
        return {booth: snapshot(scene, booth) for booth in booths_shown(self.shop)}

    def _now(self) -> int:
        """The logger's clock. One that a plant drives isn't ours to read: then it is as late as the newest arrival."""
        if isinstance(self.clock, TickClock) and self._arrivals.arrived is not None:
            self.clock.set(self._arrivals.arrived)
        return self.clock.now()

    def _hear_logger(self) -> None:
        for entry in self.store.journal.entries(after=self._entries, kinds=["logger-start", "logger-stop", "config"]):
            if entry.kind == "config":
                self.outdated = entry.body["sha256"] != self.shop.sha256
            else:
                self._stopped = entry.effective if entry.kind == "logger-stop" else None

    def _take_newest(self, one: Reading | None) -> None:
        if one is not None and (one.point not in self._newest or one.time >= self._newest[one.point].time):
            self._newest[one.point] = one


class Live:
    """The thread around the eyes. `snapshots` is replaced, never changed; `version` counts the replacements."""

    def __init__(self, board: Board) -> None:
        self.shop, self.directory, self.clock = board.shop, board.directory, board.clock
        self.snapshots: dict[str, dict[str, Any]] = {}
        self.version = 0
        self.problem: str | None = None  # why there is no new snapshot, for people
        self.outdated = False  # whether what is shown is judged by an older configuration than the logger's
        self._stopping = threading.Event()
        self._seen = threading.Event()
        self._listeners: set[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = set()
        self._lock = threading.Lock()
        self._thread = threading.Thread(target=self._run, name="board-live", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(10)
        self._wake()

    @property
    def stopping(self) -> bool:
        return self._stopping.is_set()

    def now(self) -> int:
        return self.clock.now()

    def wait_first(self, timeout: float) -> bool:
        """Until there is a snapshot at all; for starting up, and for tests."""
        return self._seen.wait(timeout)

    @contextmanager
    def listening(self) -> Iterator[asyncio.Event]:
        """An event of the running loop that is set whenever there is a new snapshot; whoever waits for it clears it."""
        listener = (asyncio.get_running_loop(), asyncio.Event())
        with self._lock:
            self._listeners.add(listener)
        try:
            yield listener[1]
        finally:
            with self._lock:
                self._listeners.discard(listener)

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                with Store.open(self.directory) as store:
                    self._watch(Eyes(self.shop, store, self.clock))
            except StoreError as problem:
                self._say(str(problem))
            except Exception:
                log.exception("the board could not look at the store; trying again")
                self._say("a fault in the board; see its log")
            self._stopping.wait(1.0)

    def _watch(self, eyes: Eyes) -> None:
        while not self._stopping.is_set():
            found = eyes.follow()
            if found is not None:
                self.problem, self.outdated, self.snapshots = None, eyes.outdated, found
                self.version += 1
                self._seen.set()
                self._wake()
            self._stopping.wait(FOLLOW_EVERY_S)

    def _say(self, problem: str) -> None:
        if problem != self.problem:
            log.error("%s", problem)
        self.problem = problem
        self._seen.set()
        self._wake()

    def _wake(self) -> None:
        with self._lock:
            for loop, event in self._listeners:
                if not loop.is_closed():
                    loop.call_soon_threadsafe(event.set)
