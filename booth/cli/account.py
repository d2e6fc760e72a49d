"""`booth account`: who may sign in at the board, without the board."""

from __future__ import annotations

from enum import Enum
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, UsageError, emit, read_shop


class Action(str, Enum):  # noqa: UP042 -- typer reads the values
    list = "list"
    add = "add"
    disable = "disable"
    link = "link"


class Role(str, Enum):  # noqa: UP042
    painter = "painter"
    supervisor = "supervisor"
    ehs = "ehs"
    maintenance = "maintenance"


def register(app: typer.Typer) -> None:
    app.command("account")(account)


def account(
    action: Annotated[Action, typer.Argument(help="list, add, disable, or link: a new one-time link.")],
    who: Annotated[str | None, typer.Argument(help="The person's name; to disable or link also the badge.")] = None,
    role: Annotated[Role | None, typer.Option(help="With add: what they may do.")] = None,
    badge: Annotated[str | None, typer.Option(help="With add, for painters: the badge as the scanner types it.")] = None,
    admin: Annotated[bool, typer.Option("--admin", help="With add, for supervisors: may change accounts.")] = False,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """List, add or disable accounts; make a one-time link by which its owner sets a password or PIN (a forgotten one too)."""
    from booth.store import Store
    from booth.web.people.accounts import AccountError, Accounts
    from booth.web.serving import address

    Store.open(store).close()  # a mistyped folder is an error, not an empty list
    accounts = Accounts(store)
    if action is not Action.list and not who:
        raise UsageError(f"booth account {action.value}: write whose; 'booth account list' shows them")
    if action is Action.add and role is None:
        raise UsageError(f"--role is missing; write one of {', '.join(one.value for one in Role)}")
    try:
        if action is Action.list:
            _list(accounts, json_)
        elif action is Action.disable:
            _say(accounts.disable(who), None, json_)
        else:
            found = accounts.add(who, role.value, badge, admin) if action is Action.add else accounts.find(who)
            link = f"{address(read_shop(config).site.board)}/first/{accounts.link(found.id)}"
            _say(accounts.find(found.id), link, json_)
    except AccountError as problem:
        raise UsageError(str(problem)) from None


def _list(accounts, json_: bool) -> None:
    every = accounts.all()
    if json_:
        emit([_told(one) for one in every])
        return
    for one in every:
        role = f"{one.role}, admin" if one.admin else one.role
        typer.echo(f"{one.name:<28} {role:<18} {one.badge or '':<16} {_state(one)}")
    if not every:
        typer.echo("no accounts yet; 'booth board' prints a one-time link that makes the first one")


def _say(account, link: str | None, json_: bool) -> None:
    if json_:
        emit(_told(account) | ({"link": link} if link else {}))
    elif link:
        typer.echo(f"{account.name}, {account.role}; once and within a day: {link}")
    else:
        typer.echo(f"{account.name}: {_state(account)}; whoever was signed in as them is signed out")


def _told(account) -> dict:
    told = {key: getattr(account, key) for key in ("id", "name", "role", "admin", "badge")}
    return told | {"state": _state(account)}


def _state(account) -> str:
    return "disabled" if account.disabled else "ready" if account.secret else "has not used the link yet"
