"""How often somebody may try to sign in: per account and per address, with a delay that grows.

An attempt counts before its secret is looked at, so that many at once don't get more tries than one after the other. NIST SP
800-63B allows at most 100 failures in a row for one account; then a new link from an admin is needed. An address is shared by
many people: what it failed at is half forgotten with each hour, and what somebody mistyped there is when they get in.
"""

from __future__ import annotations

from booth.times import HOUR, MINUTE, SECOND
from booth.web.people.accounts import Accounts

FREE = {"account": 4, "address": 20}  # failures before the first delay: a shop's screens may share an address
FIRST_US = 15 * SECOND
LONGEST_US = 15 * MINUTE
MOST = 100
FOR_EVER = 2**62
HALVED_EVERY_US = {"account": FOR_EVER, "address": HOUR}


def attempt(accounts: Accounts, account: str, address: str) -> int:
    """Count an attempt of an account ("name …" or "badge …") from an address. 0, or how many microseconds it has to wait: then
    nothing was counted and the secret must not be looked at.
    """
    now = accounts.clock.now()
    keys = {account: "account", f"address {address}": "address"}
    with accounts.file.work() as database:
        known = {who: database.row("SELECT failures, locked_until FROM attempt WHERE who = ?", (who,)) or (0, 0) for who in keys}
        wait = max(locked - now for _, locked in known.values())
        if wait > 0:
            return wait
        for who, kind in keys.items():
            failures = _remembered(*known[who], now, kind) + 1
            row = (who, failures, now + _delay(failures, kind))
            database.execute("INSERT OR REPLACE INTO attempt (who, failures, locked_until) VALUES (?, ?, ?)", row)
    return 0


def succeeded(accounts: Accounts, account: str, address: str) -> None:
    """It was them after all. The address keeps what it has failed at otherwise, but for this account's attempts."""
    with accounts.file.work() as database:
        own = database.row("SELECT failures FROM attempt WHERE who = ?", (account,)) or (1,)
        database.execute("DELETE FROM attempt WHERE who = ?", (account,))
        changed = "failures = max(failures - ?, 0), locked_until = min(locked_until, ?)"
        row = (own[0], accounts.clock.now(), f"address {address}")
        database.execute(f"UPDATE attempt SET {changed} WHERE who = ?", row)


def _remembered(failures: int, locked_until: int, now: int, kind: str) -> int:
    """How many of the failures still count. The last of them was at `locked_until`, or its delay ended then."""
    halvings = (now - locked_until) // HALVED_EVERY_US[kind]
    return failures >> min(max(halvings, 0), 60)


def _delay(failures: int, kind: str) -> int:
    """15 s after the fifth failure in a row, and twice as long after each one more, up to 15 minutes."""
    if kind == "account" and failures >= MOST:
        return FOR_EVER
    over = failures - FREE[kind]
    return 0 if over <= 0 else min(FIRST_US * 2 ** min(over - 1, 20), LONGEST_US)
