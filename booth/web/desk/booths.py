"""The supervisor's page: every booth and open van, refreshed every few seconds; it says OLD when it can't be."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from booth.times import SECOND
from booth.web.acts import act
from booth.web.desk.booths_view import booths_view
from booth.web.desk.shared import as_of, desk_of, moments_of
from booth.web.pages import Page
from booth.web.render import page_text, render
from booth.web.screen import preferences

LOOK_EVERY = 2 * SECOND
"""Screens that ask within the same two seconds are shown the same look."""


async def booths(request: Request) -> Response:
    return render(request, "booths.html", **await run_in_threadpool(_look, request, desk_of(request)))


async def booths_now(request: Request) -> Response:
    """The part of the page that is live, for its script."""
    text = page_text(request, "booths_now.html", **await run_in_threadpool(_look, request, desk_of(request)))
    return HTMLResponse(text)


async def acknowledge(request: Request) -> Response:
    """Somebody at the desk has seen an alarm."""
    form = await request.form()
    about = {name: str(form.get(name, "")) for name in ("alarm", "booth")}
    await act(request, {"event": "acknowledge"} | about)
    return RedirectResponse("/booths", 303)


def _look(request: Request, desk) -> dict:
    board, units = request.app.state.board, preferences(request).units
    with board.store() as store:
        now = as_of(board, store)
        with desk.memory.following(store) as known:
            key = ("booths", known.read_to, now // LOOK_EVERY, units)
        view = desk.shelf.get(key, lambda: booths_view(board.shop, store, known, now, units))
    return {"view": view, "moments": moments_of(board, view["at"])}


PAGES = (
    Page("/booths", "booths", booths, nav="Booths"),
    Page("/booths/now", "booths-now", booths_now, by_itself=True),
    Page("/booths", "booths-acknowledge", acknowledge, ("POST",), body_limit=4096),
)
