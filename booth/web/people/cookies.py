"""Cookies: HttpOnly, SameSite=Strict, and Secure with the __Host- prefix where people's browsers speak TLS (RFC 6265bis)."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

SESSION = "booth_session"
VISIT = "booth_visit"
SCREEN = "booth_screen"


def read_cookie(request: Request, name: str) -> str | None:
    return request.cookies.get(_named(request, name)) or None


def set_cookie(request: Request, response: Response, name: str, value: str, seconds: int | None = None) -> None:
    """Without `seconds` it lasts until the browser is closed."""
    secure = _secure(request)
    response.set_cookie(_named(request, name), value, max_age=seconds, path="/", secure=secure, httponly=True, samesite="strict")


def drop_cookie(request: Request, response: Response, name: str) -> None:
    response.delete_cookie(_named(request, name), path="/", secure=_secure(request), httponly=True, samesite="strict")


def _secure(request: Request) -> bool:
    return request.app.state.board.settings.https


def _named(request: Request, name: str) -> str:
    """No page of another host, and none over plain HTTP, can set a cookie with this prefix."""
    return f"__Host-{name}" if _secure(request) else name
