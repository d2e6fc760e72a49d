"""Connections that say nothing, or a byte a minute, are closed: they would hold a place that a screen needs."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 10.0
"""For the head of a request, from connecting or its first byte on; and for what somebody goes on sending after an answer."""


class Impatient(H11Protocol):
    """HTTP/1.1 with a limit on how long a request's head may take."""

    _limit: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._limit = self.loop.call_later(HEAD_S, self._give_up)

    def handle_events(self) -> None:
        super().handle_events()
        if not self._unfinished():
            self._stop_waiting()
        elif self._limit is None:
            self._limit = self.loop.call_later(HEAD_S, self._give_up)

    def connection_lost(self, exc: Exception | None) -> None:
        self._stop_waiting()
        super().connection_lost(exc)

    def _unfinished(self) -> bool:
        """Bytes of a head without its end; or a body that goes on although it has been answered (refused) already."""
        head = self.conn.their_state is h11.IDLE and bool(self.conn.trailing_data[0])
        answered = self.cycle is not None and self.cycle.response_complete
        return head or (answered and self.conn.their_state is h11.SEND_BODY)

    def _give_up(self) -> None:
        self._limit = None
        if not self.transport.is_closing():
            self.transport.close()

    def _stop_waiting(self) -> None:
        if self._limit is not None:
            self._limit.cancel()
            self._limit = None
