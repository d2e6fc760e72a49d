"""Is a form sent from one of our own pages? Every form carries a token that only they know, and browsers say where it came from.

The token is made out of a cookie that no script can read: of the session, or of a visit before signing in.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets

from starlette.requests import Request
from starlette.responses import Response

from booth.web.people.cookies import SESSION, VISIT, read_cookie, set_cookie

FIELD = "csrf"
HEADER = "x-csrf-token"


def token_of(request: Request) -> str:
    """The token that this visitor's forms carry."""
    key = read_cookie(request, SESSION) or _visit(request)
    return hmac.new(key.encode(), b"a form of the board", hashlib.sha256).hexdigest()


def keep_visit(request: Request, response: Response) -> None:
    """Give a visitor without a session the cookie that the token of the page just made rests on."""
    made = getattr(request.state, "visit", None)
    if made is not None and read_cookie(request, VISIT) != made:
        set_cookie(request, response, VISIT, made)


def wrong_origin(request: Request) -> bool:
    """Does the browser say that the request comes from another site? One that says nothing is judged by its token."""
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return True
    origin = request.headers.get("origin")
    return origin is not None and origin.partition("://")[2].lower() != request.headers.get("host", "").lower()


def fits(request: Request, sent: str | None) -> bool:
    """Is it the token that this visitor's forms carry?"""
    return sent is not None and hmac.compare_digest(sent.encode(), token_of(request).encode())


def _visit(request: Request) -> str:
    known = read_cookie(request, VISIT) or getattr(request.state, "visit", None)
    if known is None:
        known = request.state.visit = secrets.token_urlsafe(24)
    return known
