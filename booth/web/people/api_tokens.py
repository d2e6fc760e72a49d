"""Tokens by which other programs read the API: made by an admin, shown once, kept as a hash, revoked at once."""

from __future__ import annotations

import secrets
from typing import NamedTuple
from uuid import uuid4

from booth.web.people.accounts import AccountError, Accounts
from booth.web.people.accounts_file import digest

PREFIX = "booth_"  # so that a token that leaked into a file can be searched for


class Token(NamedTuple):
    id: str
    name: str
    made_by: str
    created: int
    revoked: int | None


def make(accounts: Accounts, name: str, made_by: str) -> str:
    """A new token; this is the only time that it can be seen. Raises AccountError."""
    if not name.strip() or len(name) > 100:
        raise AccountError("a token has a name of 1 to 100 characters: the program that uses it")
    token = PREFIX + secrets.token_urlsafe(32)
    with accounts.file.work() as database:
        row = (str(uuid4()), digest(token), name.strip(), made_by, accounts.clock.now())
        database.execute("INSERT INTO token (id, digest, name, made_by, created) VALUES (?, ?, ?, ?, ?)", row)
    return token


def every(accounts: Accounts) -> list[Token]:
    with accounts.file.look() as database:
        return [Token(*row) for row in database.rows("SELECT id, name, made_by, created, revoked FROM token ORDER BY created")]


def revoke(accounts: Accounts, id_: str) -> None:
    """From now on nobody gets in with it. Raises AccountError."""
    with accounts.file.work() as database:
        if database.row("SELECT 1 FROM token WHERE id = ?", (id_,)) is None:
            raise AccountError("there is no such token")
        database.execute("UPDATE token SET revoked = coalesce(revoked, ?) WHERE id = ?", (accounts.clock.now(), id_))


def known(accounts: Accounts, token: str) -> bool:
    """May a program with this token read?"""
    with accounts.file.look() as database:
        return database.row("SELECT 1 FROM token WHERE digest = ? AND revoked IS NULL", (digest(token),)) is not None
