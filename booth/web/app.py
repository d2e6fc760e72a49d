"""The board as an ASGI application: every page behind its door, and what surrounds them all."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.routing import Route

from booth.reports.judged import NoSuchVehicle
from booth.shop.events import EventError
from booth.store import StoreError
from booth.web import errors
from booth.web.all_pages import ALL_PAGES
from booth.web.board import Board
from booth.web.guard import guarded
from booth.web.pages import Page
from booth.web.painter.live import Live
from booth.web.people.accounts import AccountError
from booth.web.people.secrets_of_people import SecretError
from booth.web.security import Security


def create_app(board: Board, pages: tuple[Page, ...] = ALL_PAGES, *, follow: bool = True) -> Starlette:
    """The application for one board. While it runs, a thread follows the store for what is live (unless told not to)."""
    app = Starlette(
        routes=[Route(page.path, guarded(page), methods=list(page.methods), name=page.name) for page in pages],
        middleware=[Middleware(Security, settings=board.settings)],
        exception_handlers={
            HTTPException: errors.refused,
            EventError: errors.unfit,
            AccountError: errors.unfit,
            SecretError: errors.unfit,
            NoSuchVehicle: errors.unknown,
            StoreError: errors.no_store,
            Exception: errors.failed,
        },
        lifespan=_following if follow else None,
    )
    app.state.board, app.state.pages = board, pages
    return app


@asynccontextmanager
async def _following(app: Starlette) -> AsyncIterator[None]:
    """Live views follow the store for as long as the application runs."""
    board = app.state.board
    board.live = Live(board)
    board.live.start()
    try:
        yield
    finally:
        board.live.stop()
        board.live = None
