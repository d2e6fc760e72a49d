"""The file that people, their sessions, links and tokens stand in: beside the store, and readable by its owner only.

It isn't part of the store: nothing in it is evidence, and a backup of the records needn't hold anybody's password.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from booth.store.database import Database, StoreError

FILE = "accounts.sqlite"
VERSION = 1

TABLES = (
    "CREATE TABLE account (id TEXT PRIMARY KEY, name TEXT NOT NULL UNIQUE COLLATE NOCASE, role TEXT NOT NULL,"
    " admin INTEGER NOT NULL, badge TEXT UNIQUE, secret TEXT, created INTEGER NOT NULL, disabled INTEGER) STRICT",
    "CREATE TABLE session (digest TEXT PRIMARY KEY, account TEXT NOT NULL REFERENCES account (id) ON DELETE CASCADE,"
    " created INTEGER NOT NULL, seen INTEGER NOT NULL, until INTEGER NOT NULL) STRICT",
    "CREATE TABLE link (digest TEXT PRIMARY KEY, account TEXT REFERENCES account (id), until INTEGER NOT NULL) STRICT",
    "CREATE TABLE attempt (who TEXT PRIMARY KEY, failures INTEGER NOT NULL, locked_until INTEGER NOT NULL) STRICT",
    "CREATE TABLE token (id TEXT PRIMARY KEY, digest TEXT NOT NULL UNIQUE, name TEXT NOT NULL, made_by TEXT NOT NULL,"
    " created INTEGER NOT NULL, revoked INTEGER) STRICT",
)


class AccountsFile:
    """Opens the database for one piece of work at a time, so that any thread or process may."""

    def __init__(self, directory: Path) -> None:
        """Makes the file if it isn't there. Raises StoreError."""
        self.path = directory / FILE
        try:
            os.close(os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600))  # before SQLite would make it for others to read
            os.chmod(self.path, 0o600)
        except OSError as problem:
            raise StoreError(f"{self.path}: {problem.strerror}; this user must be able to write in that folder") from None
        with self.work() as database:
            found = database.row("PRAGMA user_version")[0]
            if found > VERSION:
                raise StoreError(f"{self.path}: made by a newer version ({found}); use that one")
            if found < VERSION:
                for table in TABLES:
                    database.execute(table)
                database.execute(f"PRAGMA user_version = {VERSION}")

    @contextmanager
    def work(self) -> Iterator[Database]:
        """The database; all writes inside are kept together or not at all."""
        database = Database(self.path)
        try:
            with database.transaction():
                yield database
        finally:
            database.close()

    @contextmanager
    def look(self) -> Iterator[Database]:
        """The database, to read."""
        database = Database(self.path)
        try:
            yield database
        finally:
            database.close()


def digest(token: str) -> str:
    """What is kept of a random token: whoever reads the file can't use it. No salt is needed, since nobody can guess it."""
    return hashlib.sha256(token.encode()).hexdigest()
