"""For whoever watches the watcher: does the board answer, and does it reach its store?"""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from booth.store import StoreError
from booth.web.board import Board
from booth.web.pages import ANYBODY, Page


async def health(request: Request) -> Response:
    """200 and how far the journal is, or 503. It says nothing that an outsider may not know."""
    try:
        entries = await run_in_threadpool(_entries, request.app.state.board)
    except StoreError:
        return JSONResponse({"status": "no store"}, 503)
    return JSONResponse({"status": "ok", "journal_entries": entries})


def _entries(board: Board) -> int:
    with board.store() as store:
        return store.journal.head().entries


PAGES = (Page("/health", "health", health, roles=ANYBODY),)
