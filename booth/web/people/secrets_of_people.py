"""Passwords and PINs: what is accepted, and the hashes that are kept instead of them.

Rules of NIST SP 800-63B-4 (section 3.1.1, from memory): length decides, no rules of composition, no forced change; a password
that stands alone has at least 15 characters. A PIN stands beside a badge and is throttled; it has at least 6 digits.
"""

from __future__ import annotations

import threading
import unicodedata
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError

PASSWORD_LENGTH = 15
PASSWORD_LONGEST = 256
PIN_LENGTH, PIN_LONGEST = 6, 12
FEWEST_LETTERS = 5  # different ones; fewer is a pattern, not a password

_one_at_a_time = threading.Semaphore(2)  # a hash takes 64 MiB: many at once would be an attack on memory


class SecretError(ValueError):
    """A password or PIN that isn't taken; the text says what is."""


def password(text: str, name: str) -> str:
    """A password as it is hashed (NFKC, as SP 800-63B asks). Raises SecretError."""
    found = normal(text)
    if not PASSWORD_LENGTH <= len(found) <= PASSWORD_LONGEST:
        raise SecretError(f"A password has {PASSWORD_LENGTH} to {PASSWORD_LONGEST} characters; five words make a good one.")
    if len(set(found.casefold())) < FEWEST_LETTERS or name.casefold() in found.casefold():
        raise SecretError("This password is easy to guess: leave out your name, and don't repeat a few characters.")
    return found


def pin(text: str) -> str:
    """A PIN. Raises SecretError."""
    if not (text.isascii() and text.isdigit() and PIN_LENGTH <= len(text) <= PIN_LONGEST):
        raise SecretError(f"A PIN has {PIN_LENGTH} to {PIN_LONGEST} digits.")
    steps = {(int(after) - int(before)) % 10 for before, after in zip(text, text[1:], strict=False)}
    if len(steps) == 1:
        raise SecretError("This PIN is easy to guess: take digits that don't repeat or count up or down.")
    return text


def normal(text: str) -> str:
    """The same password, whichever keyboard composed its accents."""
    return unicodedata.normalize("NFKC", text)


def hashed(secret: str) -> str:
    """The argon2id hash (RFC 9106) to keep."""
    with _one_at_a_time:
        return _hasher().hash(secret)


def matches(kept: str | None, secret: str) -> bool:
    """Is it the secret that the hash was made of? Takes as long for somebody who isn't there (`kept` is None)."""
    try:
        with _one_at_a_time:
            return _hasher().verify(kept or _nobody(), normal(secret)) and kept is not None
    except (Argon2Error, InvalidHashError):
        return False


def _hasher() -> PasswordHasher:
    return PasswordHasher()


@cache
def _nobody() -> str:
    return _hasher().hash("nobody signs in with this")
