"""A child of the logger that is started again should it die, and told to stop when the logger stops.

The child holds the other end of a pipe: STOP comes through it when the logger stops; it ends without a word when the logger was
killed.
"""

from __future__ import annotations

import atexit
import logging
import multiprocessing
import threading
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any

RESTART_S = 2.0
STOP_S = 5.0
STOP = b"stop"

log = logging.getLogger(__name__)


class Child:
    """`run(*arguments, pipe)` in a process of its own."""

    def __init__(self, name: str, run: Callable[..., None], *arguments: Any) -> None:
        self._name, self._run, self._arguments = name, run, arguments
        self._stopping = threading.Event()
        self._keeper = threading.Thread(target=self._keep_running, name=f"{name}-keeper", daemon=True)
        self._ours: Connection | None = None
        self._process: multiprocessing.process.BaseProcess | None = None
        self._lock = threading.Lock()

    def start(self) -> None:
        """Returns at once."""
        atexit.register(self.stop)  # before Python waits for children
        self._keeper.start()

    def stop(self) -> None:
        """Ask it to end, and end it if it doesn't in time. Again is harmless."""
        atexit.unregister(self.stop)
        with self._lock:
            self._stopping.set()
            if self._ours is not None:
                with suppress(OSError):
                    self._ours.send_bytes(STOP)
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
                log.warning("the %s ended with code %s; starting it again", self._name, process.exitcode)
                self._stopping.wait(RESTART_S)

    def _spawn(self) -> multiprocessing.process.BaseProcess | None:
        context = multiprocessing.get_context("spawn")  # a fork would inherit the logger's locks and its sockets
        with self._lock:
            if self._stopping.is_set():
                return None
            if self._ours is not None:
                self._ours.close()
            theirs, self._ours = context.Pipe(duplex=False)
            # Not a daemon: those may have no children of their own, and the board makes documents in one.
            self._process = context.Process(target=self._run, args=(*self._arguments, theirs), name=self._name, daemon=False)
            self._process.start()
            theirs.close()  # else the end of ours would never be seen
            return self._process
