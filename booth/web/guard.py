"""The door of every page: who is it, may they open it, was it sent from one of our own pages, and is it small enough?"""

from __future__ import annotations

import asyncio
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import Message

from booth.web.pages import Endpoint, Page, Person, may_open
from booth.web.people import api_tokens, csrf, sessions
from booth.web.people.cookies import SESSION, read_cookie

BODY_S = 15.0  # longer than the slowest phone in the corridor takes for one form
SAFE = ("GET", "HEAD")


def guarded(page: Page) -> Endpoint:
    """The page's endpoint behind the door."""

    async def endpoint(request: Request) -> Response:
        board = request.app.state.board
        request.state.person = await _person(request, page)
        if not may_open(page, request.state.person, board.settings.open_booth_page) and not await _by_token(request, page):
            return _refuse(request, page)
        if request.method not in SAFE:
            request = await _read(request, page)
        return await page.endpoint(request)

    return endpoint


async def _person(request: Request, page: Page) -> Person | None:
    token = read_cookie(request, SESSION)
    if token is None:
        return None
    board = request.app.state.board
    return await run_in_threadpool(sessions.person_of, board.accounts, token, board.settings, page.by_itself)


async def _by_token(request: Request, page: Page) -> bool:
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    if not page.token or scheme.lower() != "bearer":
        return False
    return await run_in_threadpool(api_tokens.known, request.app.state.board.accounts, token.strip())


def _refuse(request: Request, page: Page) -> Response:
    if request.state.person is not None:
        raise HTTPException(403, "Your account may not do this.")
    if page.token:
        raise HTTPException(401, "Sign in, or send an API token.", {"WWW-Authenticate": 'Bearer realm="board"'})
    if request.method not in SAFE:
        raise HTTPException(401, "You are not signed in (any more), and nothing was kept. Sign in, then send it again.")
    target = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return RedirectResponse(f"/sign-in?next={quote(target, safe='/')}", 303)


async def _read(request: Request, page: Page) -> Request:
    """The request with its body read and its form token checked."""
    if csrf.wrong_origin(request):
        raise HTTPException(403, "This was sent from a page of another site, and nothing was kept.")
    body = await read_body(request, page.body_limit)

    async def receive() -> Message:
        return {"type": "http.request", "body": body, "more_body": False}

    whole = Request(request.scope, receive)
    sent = whole.headers.get(csrf.HEADER)
    if sent is None:
        found = (await whole.form(max_files=0)).get(csrf.FIELD)
        sent = found if isinstance(found, str) else None
    if not csrf.fits(whole, sent):
        raise HTTPException(403, "This form is too old, or not one of ours, and nothing was kept. Open its page again.")
    return whole


async def read_body(request: Request, limit: int) -> bytes:
    """The whole body. Raises HTTPException: 413 for more than `limit` bytes, 408 when it doesn't come in time."""
    length = request.headers.get("content-length", "0")
    if not length.isdigit() or int(length) > limit:
        raise HTTPException(413, f"At most {limit} bytes can be sent here.")
    body = bytearray()
    try:
        async with asyncio.timeout(BODY_S):
            async for chunk in request.stream():
                body += chunk
                if len(body) > limit:
                    raise HTTPException(413, f"At most {limit} bytes can be sent here.")
    except TimeoutError:
        raise HTTPException(408, "The rest of it didn't come.", {"Connection": "close"}) from None
    return bytes(body)
