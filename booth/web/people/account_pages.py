"""Accounts and API tokens, for admins."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from booth.store import Draft
from booth.web.acts import CHANNEL
from booth.web.board import Board
from booth.web.pages import ADMINS, ROLES, Page, Person
from booth.web.people import api_tokens
from booth.web.people.accounts import Account, AccountError, Accounts
from booth.web.render import render


async def accounts_page(request: Request) -> Response:
    return await _page(request)


async def change_accounts(request: Request) -> Response:
    """One of the page's forms. What can be seen only once (a link, a token) is on the page that answers."""
    form = {key: str(value) for key, value in (await request.form()).items()}
    done = await run_in_threadpool(_change, request.app.state.board, form, request.state.person)
    if not done.shown_once:
        return RedirectResponse("/accounts", 303)
    base = str(request.base_url).rstrip("/") if done.shown_once.startswith("/") else ""
    return await _page(request, done.what, base + done.shown_once)


class Done(NamedTuple):
    """Which account or token it was about (its id), and what can be seen only once."""

    about: str
    what: str = ""
    shown_once: str = ""


def _change(board: Board, form: dict[str, str], person: Person) -> Done:
    """Do it, and write into the journal that it was done."""
    deed = DEEDS.get(form.get("do", ""))
    if deed is None:
        raise AccountError(f"{form.get('do', '')!r} is not something that can be done to accounts")
    done = deed(board.accounts, form, person)
    with board.store() as store:
        now = board.moment(store)
        body = {"did": form["do"], "about": done.about}
        private = {"by": person.by, "principal": person.account}
        store.journal.append([Draft("account", body, now, now, CHANNEL, private=private)])
    return done


async def _page(request: Request, what: str = "", shown_once: str = "") -> Response:
    accounts = request.app.state.board.accounts
    every, tokens = await run_in_threadpool(lambda: (accounts.all(), api_tokens.every(accounts)))
    return render(request, "accounts.html", accounts=every, tokens=tokens, roles=ROLES, what=what, shown_once=shown_once)


def _add(accounts: Accounts, form: dict[str, str], _: Person) -> Done:
    account = accounts.add(form.get("name", ""), form.get("role", ""), form.get("badge"), form.get("admin") == "yes")
    return _linked(accounts, account)


def _link(accounts: Accounts, form: dict[str, str], _: Person) -> Done:
    return _linked(accounts, accounts.find(form.get("account", "")))


def _linked(accounts: Accounts, account: Account) -> Done:
    return Done(account.id, f"The link for {account.name}, good once and for a day", f"/first/{accounts.link(account.id)}")


def _disable(accounts: Accounts, form: dict[str, str], _: Person) -> Done:
    return Done(accounts.disable(form.get("account", "")).id)


def _token(accounts: Accounts, form: dict[str, str], person: Person) -> Done:
    token = api_tokens.make(accounts, form.get("name", ""), person.name)
    return Done(api_tokens.every(accounts)[-1].id, "The token, shown this once", token)


def _revoke(accounts: Accounts, form: dict[str, str], _: Person) -> Done:
    api_tokens.revoke(accounts, form.get("token", ""))
    return Done(form["token"])


DEEDS: dict[str, Callable[[Accounts, dict[str, str], Person], Done]] = {
    "add": _add,
    "link": _link,
    "disable": _disable,
    "token": _token,
    "revoke": _revoke,
}

PAGES = (
    Page("/accounts", "accounts", accounts_page, roles=ADMINS, nav="Accounts"),
    Page("/accounts", "accounts-changed", change_accounts, ("POST",), ADMINS, body_limit=8192),
)
