"""Who is signed in. A session is a random token in a cookie; the file keeps its hash, and the account is asked each time."""

from __future__ import annotations

import secrets

from booth.shop.board import Board as Settings
from booth.times import MINUTE
from booth.web.pages import PAINTER, Person
from booth.web.people.accounts import Accounts
from booth.web.people.accounts_file import digest

SEEN_EVERY_US = MINUTE  # a session's last use is written down no oftener than this


def begin(accounts: Accounts, account: str, settings: Settings, old: str | None) -> str:
    """A new session of an account, and the token for its cookie. The one that was in the cookie before ends: a token that
    somebody slipped in before signing in is worth nothing after it.
    """
    token, now = secrets.token_urlsafe(32), accounts.clock.now()
    with accounts.file.work() as database:
        database.execute("DELETE FROM session WHERE digest = ? OR until <= ?", (digest(old or ""), now))
        row = (digest(token), account, now, now, now + settings.session)
        database.execute("INSERT INTO session (digest, account, created, seen, until) VALUES (?, ?, ?, ?, ?)", row)
    return token


def person_of(accounts: Accounts, token: str, settings: Settings, by_itself: bool = False) -> Person | None:
    """Whose session it is, or None: unknown, over, idle for too long, or of a disabled account.

    What a page asks for by itself (`by_itself`) shows nobody's presence: it doesn't put off the end of an idle session.
    A painter's lasts the shift without a touch: the screen at the booth is looked at, and hands are in gloves.
    """
    now = accounts.clock.now()
    with accounts.file.look() as database:
        row = database.row(
            "SELECT id, name, role, badge, admin, seen FROM session JOIN account ON account.id = session.account"
            " WHERE digest = ? AND until > ? AND disabled IS NULL",
            (digest(token), now),
        )
        if row is None or (row[2] != PAINTER and row[5] + settings.idle <= now):
            return None
        if not by_itself and now - row[5] >= SEEN_EVERY_US:
            database.execute("UPDATE session SET seen = ? WHERE digest = ?", (now, digest(token)))
    account, name, role, badge, admin, _ = row
    return Person(account, name, role, badge, bool(admin))


def end(accounts: Accounts, token: str) -> None:
    with accounts.file.work() as database:
        database.execute("DELETE FROM session WHERE digest = ?", (digest(token),))
