"""The board in a process of its own, beside the logger: whichever dies, the other goes on.

A logger that stops takes its board along. One that was killed leaves it standing, to say that nothing is heard any more, until a
new logger writes into the store and brings a board of its own.
"""

from __future__ import annotations

import errno
import logging
import os
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from booth.child import Child
from booth.clocks import SystemClock, TickClock
from booth.shop.board import Board as Settings
from booth.shop.shop import Shop, load_shop
from booth.store.store import LOCK_FILE

LOOK_S = 0.5
AGAIN_S = 1.0
NICE = 5  # when the machine is short of time, the logger comes first

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Start:
    """What a board is started with, in a form that can be sent to another process."""

    files: Mapping[str, str]
    directory: Path
    settings: Settings
    ticks: bool  # whether a plant drives the clock
    outlives: bool = True  # whether it stays when the logger is killed


@contextmanager
def boarding(shop: Shop, directory: Path, settings: Settings, ticks: bool, outlives: bool = True) -> Iterator[Child]:
    """Keeps a board up while the block runs."""
    child = Child("board", run_child, Start(dict(shop.files), directory, settings, ticks, outlives))
    child.start()
    try:
        yield child
    finally:
        child.stop()


def run_child(start: Start, pipe: Connection) -> None:
    """What the process does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the logger, which then says so through the pipe
    with suppress(OSError):
        os.nice(NICE)
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    serve_until(start, _Parent(start, pipe).gone)


def serve_until(start: Start, ended: Callable[[], bool], bound: socket.socket | None = None) -> None:
    """Serve until `ended()` says so; it is asked twice a second."""
    from booth.web.board import Board
    from booth.web.people.accounts import Accounts
    from booth.web.serving import Server

    own = bound or _bind(start.settings, ended)
    if own is None:
        return
    clock = TickClock() if start.ticks else SystemClock()
    board = Board(load_shop(start.files), start.directory, Accounts(start.directory), start.settings, clock)
    server = Server(board)

    def watch() -> None:
        while not ended():
            time.sleep(LOOK_S)
        server.should_exit = True

    threading.Thread(target=watch, name="board-end", daemon=True).start()
    server.run(sockets=[own])


def _bind(settings: Settings, ended: Callable[[], bool]) -> socket.socket | None:
    """The socket, as soon as it can be had: the board of a logger that was killed may have to go first."""
    from booth.web.serving import listening

    told = False
    while not ended():
        try:
            return listening(settings.host, settings.port)
        except OSError as error:
            if error.errno != errno.EADDRINUSE:
                raise
            if not told:
                log.warning(
                    "port %d is taken; the board waits for it (another one: port in [board], or --no-board)", settings.port
                )
            told = True
            time.sleep(AGAIN_S)
    return None


class _Parent:
    """The logger, as its board sees it."""

    def __init__(self, start: Start, pipe: Connection) -> None:
        self._lock_file, self._outlives, self._pipe = start.directory / LOCK_FILE, start.outlives, pipe
        self._parent = str(os.getppid())  # which stands in the lock file for as long as no other logger has come
        self._killed = False

    def gone(self) -> bool:
        """Is it time to end: told to, or another logger has taken over from the killed one?"""
        if not self._killed:
            try:
                if not self._pipe.poll():
                    return False
                self._pipe.recv_bytes()
                return True
            except (EOFError, OSError):
                if not self._outlives:
                    return True
                log.warning("the logger is gone; the board stays, and shows what was so until then")
                self._killed = True
        return self._writer() not in ("", self._parent)

    def _writer(self) -> str:
        try:
            return self._lock_file.read_text("ascii").strip()
        except (OSError, UnicodeDecodeError):
            return ""
