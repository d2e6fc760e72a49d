"""People who may sign in: who they are, what they may, and the one-time links by which they set their own password or PIN."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from booth.clocks import Clock, SystemClock
from booth.store.database import Database
from booth.times import DAY
from booth.web.pages import PAINTER, ROLES, SUPERVISOR, Person
from booth.web.people import secrets_of_people
from booth.web.people.accounts_file import AccountsFile, digest

LINK_US = DAY
COLUMNS = "id, name, role, admin, badge, secret, created, disabled"


class AccountError(ValueError):
    """Something that can't be done to an account; the text says what can."""


@dataclass(frozen=True)
class Account:
    """One person. `secret` is a hash, None until they have set one; `disabled` is when (microseconds UTC), or None."""

    id: str
    name: str
    role: str
    admin: bool
    badge: str | None
    secret: str | None
    created: int
    disabled: int | None

    @property
    def person(self) -> Person:
        return Person(self.id, self.name, self.role, self.badge, self.admin)


@dataclass(frozen=True)
class Link:
    """A one-time link that was followed; `account` is None for the one that makes the first admin."""

    account: Account | None


class Accounts:
    """Every account of a site. Sessions end by this machine's clock, whatever clock the logger follows."""

    def __init__(self, directory: Path, clock: Clock | None = None) -> None:
        """Raises StoreError when the file beside the store can't be used."""
        self.file = AccountsFile(directory)
        self.clock = clock or SystemClock()

    def all(self) -> list[Account]:
        with self.file.look() as database:
            return [_account(row) for row in database.rows(f"SELECT {COLUMNS} FROM account ORDER BY name")]

    def find(self, who: str) -> Account:
        """By id, name or badge. Raises AccountError."""
        with self.file.look() as database:
            return _found(database, who)

    def add(self, name: str, role: str, badge: str | None = None, admin: bool = False) -> Account:
        """A new account without a secret: its owner sets one by the link of `link()`. Raises AccountError."""
        name, badge = name.strip(), (badge or "").strip() or None
        _check(name, role, badge, admin)
        account = Account(str(uuid4()), name, role, admin, badge, None, self.clock.now(), None)
        with self.file.work() as database:
            _insert(database, account)
        return account

    def disable(self, who: str) -> Account:
        """Nobody signs in as them any more, and their sessions and links end now. Raises AccountError for the last admin."""
        with self.file.work() as database:
            account = _found(database, who)
            others = "SELECT count(*) FROM account WHERE admin AND disabled IS NULL AND secret IS NOT NULL AND id <> ?"
            if account.admin and not database.row(others, (account.id,))[0]:
                raise AccountError(f"{account.name} is the only admin; make another one first")
            database.execute("UPDATE account SET disabled = ? WHERE id = ?", (self.clock.now(), account.id))
            _forget(database, account)
        return account

    def link(self, who: str | None) -> str:
        """A token for /first/…, good once and for a day; earlier ones of the same account are void. None: the first admin's.

        The account is enabled again, and what throttled it is forgotten. Its old secret and sessions end when the link is used.
        """
        token = secrets.token_urlsafe(24)
        with self.file.work() as database:
            account = None if who is None else _found(database, who)
            database.execute("DELETE FROM link WHERE account IS ?", (account and account.id,))
            if account is not None:
                database.execute("UPDATE account SET disabled = NULL WHERE id = ?", (account.id,))
                database.execute("DELETE FROM attempt WHERE who IN (?, ?)", _attempts(account))
            until = self.clock.now() + LINK_US
            row = (digest(token), account and account.id, until)
            database.execute("INSERT INTO link (digest, account, until) VALUES (?, ?, ?)", row)
        return token

    def needs_first(self) -> bool:
        """Is there no admin yet who could let others in?"""
        return not any(one.admin and one.disabled is None and one.secret is not None for one in self.all())

    def followed(self, token: str) -> Link | None:
        """What a link is for, or None where it is unknown, used or too old."""
        with self.file.look() as database:
            return self._followed(database, token)

    def set_secret(self, token: str, secret: str, name: str = "") -> Account:
        """Use a link: keep the hash of its owner's new password or PIN; the first admin's link makes their account too.

        Raises AccountError for a link that isn't good (any more), SecretError for a secret that isn't taken.
        """
        link = self.followed(token)
        if link is None:
            raise AccountError("This link has been used, or is too old. Ask for another one.")
        account = link.account or Account(str(uuid4()), name.strip(), SUPERVISOR, True, None, None, self.clock.now(), None)
        _check(account.name, account.role, account.badge, account.admin)
        taken = secrets_of_people.pin(secret) if account.badge else secrets_of_people.password(secret, account.name)
        kept = secrets_of_people.hashed(taken)
        with self.file.work() as database:
            if self._followed(database, token) != link:
                raise AccountError("This link has been used in the meantime. Ask for another one.")
            if link.account is None:
                _insert(database, account)
            _forget(database, account)
            database.execute("DELETE FROM link WHERE digest = ?", (digest(token),))
            database.execute("UPDATE account SET secret = ? WHERE id = ?", (kept, account.id))
        return account

    def verified(self, who: str, secret: str, by_badge: bool) -> Account | None:
        """The account that signs in so, or None. Whoever calls it has asked the throttle first."""
        column = "badge" if by_badge else "name"
        with self.file.look() as database:
            where = f"{column} = ? AND disabled IS NULL AND (badge IS NOT NULL) = ?"
            row = database.row(f"SELECT {COLUMNS} FROM account WHERE {where}", (who.strip(), by_badge))
        account = _account(row) if row else None
        return account if secrets_of_people.matches(account and account.secret, secret) else None

    def _followed(self, database: Database, token: str) -> Link | None:
        row = database.row("SELECT account FROM link WHERE digest = ? AND until > ?", (digest(token), self.clock.now()))
        return None if row is None else Link(_found(database, row[0]) if row[0] else None)


def _account(row: tuple) -> Account:
    id_, name, role, admin, badge, secret, created, disabled = row
    return Account(id_, name, role, bool(admin), badge, secret, created, disabled)


def _found(database: Database, who: str) -> Account:
    row = database.row(f"SELECT {COLUMNS} FROM account WHERE id = ?1 OR name = ?1 OR badge = ?1", (who,))
    if row is None:
        raise AccountError(f"there is no account {who!r}; 'booth account list' shows them")
    return _account(row)


def _check(name: str, role: str, badge: str | None, admin: bool) -> None:
    if not name or len(name) > 100 or not name.isprintable():
        raise AccountError("an account has a name of 1 to 100 characters")
    if role not in ROLES:
        raise AccountError(f"{role!r} is not a role; write one of {', '.join(ROLES)}")
    if (role == PAINTER) != (badge is not None):
        raise AccountError(
            "a painter signs in with a badge and a PIN, everybody else with a password: a badge is for painters only"
        )
    if badge is not None and (len(badge) > 100 or not badge.isprintable()):
        raise AccountError("a badge has 1 to 100 characters, as the scanner types them")
    if admin and role != SUPERVISOR:
        raise AccountError("only a supervisor can be an admin")


def _insert(database: Database, account: Account) -> None:
    taken = "SELECT 1 FROM account WHERE name = ?1 OR badge = ?1 OR (?2 IS NOT NULL AND (badge = ?2 OR name = ?2))"
    if database.row(taken, (account.name, account.badge)):
        raise AccountError(f"there is an account with the name {account.name!r} or this badge already")
    values = (account.id, account.name, account.role, int(account.admin), account.badge, account.secret, account.created)
    database.execute("INSERT INTO account (id, name, role, admin, badge, secret, created) VALUES (?, ?, ?, ?, ?, ?, ?)", values)


def _forget(database: Database, account: Account) -> None:
    database.execute("DELETE FROM session WHERE account = ?", (account.id,))
    database.execute("DELETE FROM link WHERE account = ?", (account.id,))


def _attempts(account: Account) -> tuple[str, str]:
    return f"name {account.name.casefold()}", f"badge {account.badge}"
