"""The live part of the painter's page as server-sent events (WHATWG HTML, 9.2): one message for each new snapshot.

Nothing is sent while there is nothing new: a screen that hears nothing for some seconds says OLD by itself, whether the line, the
board or the thread that looks has died. Comments go between, so that a connection that is gone is noticed here too.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from booth.web.board import Board
from booth.web.pages import ONLOOKERS, Page, Person
from booth.web.painter.booth_page import LONGEST_VAN, booth_of, live_part, may
from booth.web.screen import preferences

PULSE_S = 2.0
LONGEST_S = 600.0  # then the screen connects anew, and whoever was signed out meanwhile is seen
HEADERS = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}

Wanted = tuple[str, str, str, bool, bool, str]  # booth, language, units, what may be touched, the van picked


class Renderings:
    """Each kind of screen is drawn once for each snapshot, however many there are of it."""

    def __init__(self) -> None:
        self._version = -1
        self._made: dict[Wanted, bytes] = {}

    def of(self, board: Board, wanted: Wanted, person: Person | None) -> bytes:
        live = board.live
        if live.version != self._version:
            self._version, self._made = live.version, {}
        if wanted not in self._made:
            booth, language, units, _, _, picked = wanted
            html = live_part(board, booth, language, units, person, picked)
            self._made[wanted] = f"data: {json.dumps({'html': html}, ensure_ascii=False)}\n\n".encode()
        return self._made[wanted]


async def stream(request: Request) -> Response:
    booth, screen, person = booth_of(request), preferences(request), request.state.person
    picked = request.query_params.get("van", "").strip()[:LONGEST_VAN]
    allowed = may(person)
    wanted = (booth, screen.language, screen.units, allowed["may_act"], allowed["may_acknowledge"], picked)
    board: Board = request.app.state.board
    await run_in_threadpool(board.live.wait_first, PULSE_S)
    return StreamingResponse(messages(request, board, wanted, person), media_type="text/event-stream", headers=HEADERS)


async def messages(request: Request, board: Board, wanted: Wanted, person: Person | None) -> AsyncIterator[bytes]:
    """One message now, and one for each new snapshot, until the screen or the board goes."""
    state = request.app.state
    renderings = state.renderings = getattr(state, "renderings", None) or Renderings()
    live, sent, ends = board.live, None, asyncio.get_running_loop().time() + LONGEST_S
    with live.listening() as fresh:
        while not live.stopping and asyncio.get_running_loop().time() < ends:
            if sent != live.version:
                sent = live.version
                yield renderings.of(board, wanted, person)
            try:
                await asyncio.wait_for(fresh.wait(), PULSE_S)
                fresh.clear()
            except TimeoutError:
                yield b": still here\n\n"


PAGES = (Page("/booth/{booth}/stream", "booth-stream", stream, roles=ONLOOKERS, by_itself=True),)
