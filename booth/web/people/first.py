"""A one-time link: the first admin makes their account, everybody else sets their own password or PIN."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from booth.web.pages import ANYBODY, Page
from booth.web.people.accounts import AccountError, Link
from booth.web.people.secrets_of_people import SecretError
from booth.web.people.sign_in import let_in
from booth.web.render import render


async def first_page(request: Request) -> Response:
    return _form(request, await _link(request))


async def first(request: Request) -> Response:
    link, form = await _link(request), await request.form()
    secret, again, name = (str(form.get(key, "")) for key in ("secret", "again", "name"))
    if secret != again:
        return _form(request, link, "The two are not the same. Type it twice.", name)
    accounts = request.app.state.board.accounts
    try:
        account = await run_in_threadpool(accounts.set_secret, request.path_params["token"], secret, name)
    except (AccountError, SecretError) as problem:
        return _form(request, link, str(problem), name)
    return await let_in(request, account, "/")


async def _link(request: Request) -> Link:
    found = await run_in_threadpool(request.app.state.board.accounts.followed, request.path_params["token"])
    if found is None:
        raise HTTPException(404, "This link has been used, or is too old. Ask for another one.")
    return found


def _form(request: Request, link: Link, wrong: str = "", name: str = "") -> Response:
    return render(request, "first.html", 422 if wrong else 200, account=link.account, wrong=wrong, name=name)


PAGES = (
    Page("/first/{token}", "first", first_page, roles=ANYBODY),
    Page("/first/{token}", "first-sent", first, ("POST",), ANYBODY, body_limit=4096),
)
