"""The first page: supervisors and offices go to the booths, painters and screens choose one."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from booth.web.pages import ONLOOKERS, PAINTER, Page
from booth.web.render import render


async def home(request: Request) -> Response:
    person, shop = request.state.person, request.app.state.board.shop
    if person is not None and person.role != PAINTER:
        return RedirectResponse("/booths", 303)
    rooms = [(name, booth) for name, booth in shop.booths.items() if booth.mode_point is not None]
    return render(request, "home.html", rooms=rooms)


PAGES = (Page("/", "home", home, roles=ONLOOKERS),)
