"""What the pages of supervisor, EHS and maintenance share: one memory of the journal, and what was made of it lately."""

from __future__ import annotations

import asyncio

from starlette.requests import Request

from booth.shop.shop import Shop
from booth.store import Store
from booth.web.board import Board
from booth.web.desk.memory import Memory
from booth.web.desk.moments import Moments
from booth.web.desk.record_view import Records
from booth.web.desk.shelf import Shelf

PDFS_AT_ONCE = 2  # each takes a process and 80 MB


class Desk:
    """The desk's share of one board."""

    def __init__(self, shop: Shop) -> None:
        self.memory = Memory(shop)
        self.records = Records(self.memory)
        self.shelf = Shelf(64)
        self.pdfs = asyncio.Semaphore(PDFS_AT_ONCE)
        self.days = Shelf(128)  # of the ventilation log: a month of each of four booths


def desk_of(request: Request) -> Desk:
    """Made at the first request for it; call it from an endpoint, which runs in the one thread of the event loop."""
    state = request.app.state
    if not hasattr(state, "desk"):
        state.desk = Desk(state.board.shop)
    return state.desk


def as_of(board: Board, store: Store) -> int:
    """The logger's clock, for a thread that has the store open."""
    return board.live.now() if board.live is not None else board.moment(store)


def moments_of(board: Board, now: int) -> Moments:
    return Moments(board.shop.site.zone, now)
