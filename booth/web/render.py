"""Templates into answers. Everything that a page shows without having asked for it comes from here."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote
from uuid import uuid4

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from booth.web.board import OUTDATED
from booth.web.pages import may_open
from booth.web.people.csrf import FIELD, keep_visit, token_of
from booth.web.screen import preferences
from booth.web.static_files import url_of

TEMPLATES = Path(__file__).with_name("templates")


@cache
def environment() -> Environment:
    """Escapes everything; a name that a page forgot to give is an error, not an empty space."""
    made = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    made.filters["part"] = lambda text: quote(str(text), safe="")  # a van's number as one part of a path
    made.globals["static"] = url_of
    return made


def render(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """A page. `context` is the page's own; it may override what every page is given."""
    response = HTMLResponse(page_text(request, template, **context), status, {"Cache-Control": "no-store"})
    keep_visit(request, response)
    return response


def page_text(request: Request, template: str, **context: Any) -> str:
    """The text of a page, or of a part of one."""
    return environment().get_template(template).render(**given(request), **context)


def given(request: Request) -> dict[str, Any]:
    """What every page is given."""
    board = request.app.state.board
    person = getattr(request.state, "person", None)
    screen = preferences(request)
    return {
        "person": person,
        "shop": board.shop,
        "cautions": board.shop.cautions,
        "outdated": OUTDATED if board.live is not None and board.live.outdated else "",
        "nav": _nav(request),
        "path": request.url.path,
        "language": screen.language,
        "units": screen.units,
        "theme": screen.theme,
        "csrf": lambda: Markup('<input type="hidden" name="{}" value="{}">').format(FIELD, token_of(request)),
        "event_id": lambda: Markup('<input type="hidden" name="id" value="{}">').format(uuid4()),
    }


def _nav(request: Request) -> list[tuple[str, str]]:
    """(path, word) of the pages that this person may open and that stand in the navigation."""
    board, person = request.app.state.board, getattr(request.state, "person", None)
    pages = [page for page in request.app.state.pages if page.nav]
    return [(page.path, page.nav) for page in pages if may_open(page, person, board.settings.open_booth_page)]
