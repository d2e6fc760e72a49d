"""What one screen is set to: language, units, light or dark. Kept by the screen itself, not by who stands in front of it."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from booth.web.pages import ANYBODY, Page
from booth.web.people.cookies import SCREEN, read_cookie, set_cookie

CHOICES = {"language": ("en", "es", "fr"), "units": ("SI", "US"), "theme": ("", "light", "dark")}
YEAR_S = 365 * 24 * 3600


@dataclass(frozen=True)
class Screen:
    """`theme` is empty where the screen follows its system."""

    language: str
    units: str
    theme: str


def preferences(request: Request) -> Screen:
    """As the screen was set; what it wasn't set to is the site's."""
    settings = request.app.state.board.settings
    chosen = {"language": settings.language, "units": settings.units, "theme": ""}
    for part in (read_cookie(request, SCREEN) or "").split("&"):
        key, _, value = part.partition("=")
        if value in CHOICES.get(key, ()):
            chosen[key] = value
    return Screen(**chosen)


def local_path(text: object) -> str:
    """A path of this board to go on to, whatever somebody wrote into the address: never another site."""
    if not isinstance(text, str) or not text.startswith("/") or text.startswith("//") or "\\" in text:
        return "/"
    return text if text.isprintable() else "/"


async def set_screen(request: Request) -> Response:
    form = await request.form()
    now = preferences(request)
    chosen = {key: form.get(key, getattr(now, key)) for key in CHOICES}
    kept = {key: value for key, value in chosen.items() if value in CHOICES[key]}
    response = RedirectResponse(local_path(form.get("next")), 303)
    set_cookie(request, response, SCREEN, urlencode(kept), YEAR_S)
    return response


PAGES = (Page("/screen", "screen", set_screen, ("POST",), ANYBODY, body_limit=4096),)
