"""Signing in and out: painters by badge and PIN, everybody else by name and password."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from booth.web.pages import ANYBODY, Page
from booth.web.people import sessions, throttle
from booth.web.people.accounts import Account, Accounts
from booth.web.people.cookies import SESSION, VISIT, drop_cookie, read_cookie, set_cookie
from booth.web.render import render
from booth.web.screen import local_path

WRONG = "This is not known here. Look at both fields, and try again."


async def sign_in_page(request: Request) -> Response:
    return render(request, "sign_in.html", next=local_path(request.query_params.get("next")), wrong="", who="")


async def sign_in(request: Request) -> Response:
    """One sentence for everything that is wrong: it must not say whose name is known."""
    form = await request.form()
    by_badge = "pin" in form
    who, secret = (str(form.get(key, ""))[:300] for key in (("badge", "pin") if by_badge else ("name", "password")))
    target = local_path(form.get("next"))
    address = request.client.host if request.client else "unknown"
    account, wait = await run_in_threadpool(_verify, request.app.state.board.accounts, who.strip(), secret, by_badge, address)
    if account is not None:
        return await let_in(request, account, target)
    wrong = _waiting(wait) if wait else WRONG
    response = render(request, "sign_in.html", 429 if wait else 422, next=target, wrong=wrong, who="" if by_badge else who)
    if wait:
        response.headers["Retry-After"] = str(-(-wait // 1_000_000))
    return response


async def let_in(request: Request, account: Account, target: str) -> Response:
    """A new session, whatever the browser had before."""
    board = request.app.state.board
    old = read_cookie(request, SESSION)
    token = await run_in_threadpool(sessions.begin, board.accounts, account.id, board.settings, old)
    response = RedirectResponse(target, 303)
    set_cookie(request, response, SESSION, token, board.settings.session // 1_000_000)
    drop_cookie(request, response, VISIT)
    return response


async def sign_out(request: Request) -> Response:
    token = read_cookie(request, SESSION)
    if token is not None:
        await run_in_threadpool(sessions.end, request.app.state.board.accounts, token)
    response = RedirectResponse("/sign-in", 303)
    drop_cookie(request, response, SESSION)
    return response


def _verify(accounts: Accounts, who: str, secret: str, by_badge: bool, address: str) -> tuple[Account | None, int]:
    """(who it is, 0), (None, 0) for a wrong secret, (None, microseconds to wait) for too many attempts."""
    key = f"badge {who}" if by_badge else f"name {who.casefold()}"
    wait = throttle.attempt(accounts, key, address)
    if wait:
        return None, wait
    account = accounts.verified(who, secret, by_badge)
    if account is not None:
        throttle.succeeded(accounts, key, address)
    return account, 0


def _waiting(us: int) -> str:
    if us > throttle.LONGEST_US:
        return "Too many attempts. Ask whoever looks after the accounts for a new link."
    seconds = -(-us // 1_000_000)
    wait = f"{seconds} seconds" if seconds < 120 else f"{-(-seconds // 60)} minutes"
    return f"Too many attempts. Try again in {wait}."


PAGES = (
    Page("/sign-in", "sign-in", sign_in_page, roles=ANYBODY),
    Page("/sign-in", "sign-in-sent", sign_in, ("POST",), ANYBODY, body_limit=4096),
    Page("/sign-out", "sign-out", sign_out, ("POST",), ANYBODY, body_limit=4096),
)
