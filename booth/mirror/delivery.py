"""Lines to the server: when this returns, each is kept there or set aside with the server's reason."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from booth.mirror.lines import probe_line
from booth.mirror.memory import Memory
from booth.mirror.server import Refused, Unavailable
from booth.mirror.settings import Settings


class Writes(Protocol):
    """A server, as far as delivery needs it (booth.mirror.server.Server)."""

    def write(self, lines: Sequence[str]) -> None: ...


class Delivery:
    """Finds the bad lines of a batch by halving it."""

    def __init__(self, settings: Settings, server: Writes, memory: Memory, now: Callable[[], int]) -> None:
        self._settings, self._server, self._memory, self._now = settings, server, memory, now

    def send(self, lines: Sequence[str]) -> None:
        """Raises Unavailable when the server can't be written to at all; whatever was sent may be sent again."""
        try:
            self._write(lines)
        except Refused as refused:
            self._check_server(refused)
            self._halve(lines, refused)

    def _write(self, lines: Sequence[str]) -> None:
        """What the bucket keeps no longer isn't a bad line: the server has dropped it on purpose and taken the rest."""
        try:
            self._server.write(lines)
        except Refused as refused:
            if refused.too_old is None:
                raise
            self._memory.count_too_old(refused.too_old)

    def _check_server(self, refused: Refused) -> None:
        """A server that refuses whatever comes must not make us set everything aside."""
        try:
            self._server.write([probe_line(self._settings, self._now())])
        except Refused:
            raise Unavailable(f"{self._settings.url} refuses every line: {refused}") from None

    def _halve(self, lines: Sequence[str], refused: Refused) -> None:
        if len(lines) == 1:
            self._memory.set_aside(lines[0], str(refused), self._now())
            return
        middle = len(lines) // 2
        for half in (lines[:middle], lines[middle:]):
            try:
                self._write(half)
            except Refused as again:
                self._halve(half, again)
