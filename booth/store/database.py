"""One SQLite connection: transactions that nest, and errors that a person can act on.

Every statement of the store goes through here, so that sqlite3's exceptions leave this file as StoreError only.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from itertools import chain
from pathlib import Path

BUSY_TIMEOUT_S = 10.0
_BLOCK = 50  # rows in one INSERT: SQLite 3.40 takes 32,766 parameters


class StoreError(Exception):
    """Something that the store can't do; the text names the file or entry, what happened, and what to do.

    `damaged`: a part of the file can't be read; other parts may well be.
    """

    def __init__(self, sentence: str, damaged: bool = False) -> None:
        super().__init__(sentence)
        self.damaged = damaged


# The beginning of SQLite's error name -> what happened, and what to do.
_EXPLANATIONS = {
    "SQLITE_FULL": "the disk is full; nothing of this write was kept: free some space, then send it again",
    "SQLITE_READONLY": "it can't be written; give this user write permission, or copy it to where it can be",
    "SQLITE_PERM": "this user may not open it; give it read and write permission",
    "SQLITE_CANTOPEN": "it can't be opened; check that the folder exists and this user may read and write in it",
    "SQLITE_NOTADB": "it is not an SQLite database; move it away, or name another --store",
    "SQLITE_CORRUPT": "its pages are damaged; keep this file for evidence and restore the last backup",
    "SQLITE_BUSY": f"another process has been writing for {BUSY_TIMEOUT_S:g} s; find out which, then try again",
    "SQLITE_LOCKED": "another statement of this process holds it; finish that first",
    "SQLITE_IOERR": "the disk reports an error; check its cable, health and free space",
}


class Database:
    """A connection in autocommit mode; `transaction()` is the only way to several writes in one commit."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.when_rolled_back: list[Callable[[], None]] = []
        self._depth = 0
        with self._explained():
            self._connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level=None)
        try:
            self.execute("PRAGMA synchronous = FULL")  # a commit survives a power cut
            self.execute("PRAGMA foreign_keys = ON")
            self.execute("PRAGMA trusted_schema = ON")  # a trigger of ours asks a function of ours
            self.execute("PRAGMA secure_delete = ON")  # what is redacted is overwritten, not only unlinked
        except StoreError:
            self.close()
            raise

    def execute(self, sql: str, parameters: Sequence = ()) -> None:
        """Run one statement."""
        with self._explained():
            self._connection.execute(sql, parameters)

    def execute_many(self, sql: str, rows: Iterable[Sequence]) -> int:
        """Run one statement for every row; the number of rows changed in all."""
        before = self._connection.total_changes
        with self._explained():
            self._connection.executemany(sql, rows)
        return self._connection.total_changes - before

    def insert_many(self, into: str, rows: Sequence[Sequence]) -> int:
        """Run an INSERT, given up to its VALUES, for all rows; the number of rows kept.

        sqlite3 lets other threads run at every statement and waits for them after it: with one for each row, and a busy network
        thread, inserting takes twice as long.
        """
        before = self._connection.total_changes
        with self._explained():
            for first in range(0, len(rows), _BLOCK):
                block = rows[first : first + _BLOCK]
                self._connection.execute(_block(into, len(block), len(block[0])), list(chain.from_iterable(block)))
        return self._connection.total_changes - before

    def rows(self, sql: str, parameters: Sequence = ()) -> list[tuple]:
        """All rows of a query. Never a cursor: one left open would keep the write-ahead log from shrinking."""
        with self._explained():
            return self._connection.execute(sql, parameters).fetchall()

    def row(self, sql: str, parameters: Sequence = ()) -> tuple | None:
        """The first row of a query, or None."""
        with self._explained():
            return self._connection.execute(sql, parameters).fetchone()

    def define(self, name: str, arguments: int, function: Callable[..., object]) -> None:
        """Let statements and triggers of this connection call a function of ours."""
        self._connection.create_function(name, arguments, function)

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """All queries inside see the same moment, whatever other processes commit meanwhile."""
        if self._connection.in_transaction:
            yield
            return
        self.execute("BEGIN")
        try:
            yield
        finally:
            if self._connection.in_transaction:  # else the disk failed, and SQLite has ended it
                self.execute("ROLLBACK")  # nothing was written; COMMIT would look at damaged pages once more

    @property
    def in_transaction(self) -> bool:
        return self._connection.in_transaction

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All writes inside are kept together or not at all; one inside another is a part that can fail alone."""
        nested = self._connection.in_transaction
        name = f"level_{self._depth}"
        self.execute(f"SAVEPOINT {name}" if nested else "BEGIN IMMEDIATE")
        self._depth += 1
        try:
            yield
            self.execute(f"RELEASE {name}" if nested else "COMMIT")
        except BaseException:
            self._roll_back(name if nested else None)
            raise
        finally:
            self._depth -= 1

    def _roll_back(self, savepoint: str | None) -> None:
        for forget in self.when_rolled_back:
            forget()
        if not self._connection.in_transaction:
            return  # SQLite rolls back by itself when the disk fails
        if savepoint is None:
            self.execute("ROLLBACK")
        else:
            self.execute(f"ROLLBACK TO {savepoint}")
            self.execute(f"RELEASE {savepoint}")

    def close(self) -> None:
        self._connection.close()

    @contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            damaged = (getattr(error, "sqlite_errorname", None) or "").startswith("SQLITE_CORRUPT")
            raise StoreError(f"{self.path}: {_explanation(error)}", damaged) from error
        except UnicodeDecodeError as error:  # SQLite quotes the damage, and sqlite3 can't read the quotation
            raise StoreError(f"{self.path}: {_EXPLANATIONS['SQLITE_CORRUPT']}", damaged=True) from error
        except (UnicodeEncodeError, OverflowError) as error:
            raise StoreError(f"{self.path}: a text or number is beyond what can be stored: {error}") from error


@cache
def _block(into: str, rows: int, columns: int) -> str:
    """The statement for so many rows."""
    row = f"({', '.join('?' * columns)})"
    return f"{into} VALUES {', '.join([row] * rows)}"


def _explanation(error: sqlite3.Error) -> str:
    name = getattr(error, "sqlite_errorname", None) or ""
    for beginning, sentence in _EXPLANATIONS.items():
        if name.startswith(beginning):
            return f"{sentence} (SQLite says: {error})"
    return str(error)  # a trigger's own sentence, or a mistake of ours
