"""The mirror in a process of its own, beside the logger: a server that hangs, or a year to catch up with, costs logging nothing.

When the logger stops or is killed the mirror stops; when the mirror dies, it is started again (booth.child).
"""

from __future__ import annotations

import logging
import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection
from pathlib import Path

from booth.child import Child
from booth.clocks import SystemClock
from booth.mirror.mirror import mirror_until
from booth.mirror.settings import Settings, settings_of
from booth.shop.shop import Shop

NICE = 10


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


class MirrorProcess(Child):
    """The mirror, started again should it die. Stopped, whatever was not yet answered is sent again next time."""

    def __init__(self, settings: Settings, directory: Path) -> None:
        super().__init__("mirror", _run, settings, directory)


def _run(settings: Settings, directory: Path, pipe: Connection) -> None:
    """What the process does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the logger, which then says so through the pipe
    with suppress(OSError):
        os.nice(NICE)
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    mirror_until(settings, directory, SystemClock().now, pipe.poll)
