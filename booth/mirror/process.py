"""The mirror in a process of its own, beside the logger: a server that hangs, or a year to catch up with, costs logging nothing.

The logger holds one end of a pipe. When that closes (the logger stops, or is killed) the mirror stops; when the mirror dies, it
is started again.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection
from pathlib import Path

from booth.clocks import SystemClock
from booth.mirror.mirror import mirror_until
from booth.mirror.settings import Settings, settings_of
from booth.shop.shop import Shop

RESTART_S = 5.0
STOP_S = 5.0  # how long to wait for the write that is under way
NICE = 10

log = logging.getLogger(__name__)


@contextmanager
def mirroring(shop: Shop, directory: Path) -> Iterator[None]:
    """Mirrors a store while the block runs; does nothing if the site has no mirror. Raises ConfigError for a bad token."""
    settings = settings_of(shop)
    if settings is None:
        yield
        return
    process = MirrorProcess(settings, directory)
    process.start()
    try:
        yield
    finally:
        process.stop()


class MirrorProcess:
    """Starts the mirror, and starts it again should it die."""

    def __init__(self, settings: Settings, directory: Path) -> None:
        self._settings, self._directory = settings, directory
        self._stopping = threading.Event()
        self._keeper = threading.Thread(target=self._keep_running, name="mirror-keeper", daemon=True)
        self._ours: Connection | None = None
        self._process: multiprocessing.process.BaseProcess | None = None
        self._lock = threading.Lock()

    def start(self) -> None:
        """Returns at once."""
        self._keeper.start()

    def stop(self) -> None:
        """Ask it to end, and end it if it doesn't in time: whatever was not yet answered is sent again next time."""
        with self._lock:
            self._stopping.set()
            if self._ours is not None:
                self._ours.close()
        if self._process is not None:
            self._process.join(STOP_S)
            self._process.kill()
        self._keeper.join(STOP_S)

    @property
    def pid(self) -> int | None:
        return self._process.pid if self._process is not None else None

    def _keep_running(self) -> None:
        while not self._stopping.is_set():
            process = self._spawn()
            if process is None:
                return
            process.join()
            if not self._stopping.is_set():
                log.warning("the mirror ended with code %s; starting it again", process.exitcode)
                self._stopping.wait(RESTART_S)

    def _spawn(self) -> multiprocessing.process.BaseProcess | None:
        context = multiprocessing.get_context("spawn")  # a fork would inherit the logger's locks and its sockets
        with self._lock:
            if self._stopping.is_set():
                return None
            if self._ours is not None:
                self._ours.close()
            theirs, self._ours = context.Pipe(duplex=False)
            arguments = (self._settings, self._directory, theirs)
            self._process = context.Process(target=_run, args=arguments, name="booth-mirror", daemon=True)
            self._process.start()
            theirs.close()  # else the end of ours would never be seen
            return self._process


def _run(settings: Settings, directory: Path, pipe: Connection) -> None:
    """What the process does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the logger, which then closes the pipe
    with suppress(OSError):
        os.nice(NICE)
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    mirror_until(settings, directory, SystemClock().now, pipe.poll)
