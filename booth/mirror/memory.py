"""How far the mirror has come, in a small file of its own: STORE/mirror.sqlite. It never takes the store's write lock.

Deleting the file is harmless: everything is then sent again, and lines that are there already overwrite themselves.
"""

from __future__ import annotations

import fcntl
import os
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from booth.store.database import Database, StoreError
from booth.times import HOUR

FILE = "mirror.sqlite"
LOCK_FILE = "mirror.lock"
FORMAT = 1

_TABLES = (
    "CREATE TABLE place (point TEXT PRIMARY KEY, time INTEGER NOT NULL) WITHOUT ROWID  -- all up to here is sent",
    """
    CREATE TABLE hour (         -- readings sent, so that one that came late shows as a difference to the store
        point   TEXT NOT NULL,
        hour    INTEGER NOT NULL,  -- hours since 1970
        rows    INTEGER NOT NULL,
        PRIMARY KEY (point, hour)
    ) WITHOUT ROWID
    """,
    """
    CREATE TABLE set_aside (    -- lines that the server doesn't take
        line    TEXT PRIMARY KEY,
        reason  TEXT NOT NULL,
        time    INTEGER NOT NULL  -- microseconds UTC: when it was set aside
    )
    """,
    """
    CREATE TABLE state (
        only          INTEGER PRIMARY KEY CHECK (only = 1),
        entries       INTEGER NOT NULL DEFAULT 0,  -- journal entries dealt with
        hash          TEXT,                        -- of the last of them
        sent          INTEGER,                     -- when the server last took something
        problem       TEXT,                        -- why it doesn't now, for people
        problem_since INTEGER,
        too_old       INTEGER NOT NULL DEFAULT 0   -- lines that the bucket's retention no longer takes
    )
    """,
    "INSERT INTO state (only) VALUES (1)",
    f"PRAGMA user_version = {FORMAT}",
)


@dataclass(frozen=True)
class Moment:
    """All readings of one point and one time, as lines. They are sent together."""

    point: str
    time: int
    lines: Sequence[str]


@dataclass(frozen=True)
class State:
    """What `state` holds; times in microseconds UTC."""

    entries: int
    hash: str | None
    sent: int | None
    problem: str | None
    problem_since: int | None
    too_old: int


class Memory:
    """The mirror's own file. One process at a time may be its writer."""

    def __init__(self, directory: Path, *, writer: bool = False) -> None:
        """Raises StoreError: another mirror of this store is running; there is no such file and this isn't the writer."""
        path = directory / FILE
        if not writer and not path.is_file():
            raise StoreError(f"{path}: nothing was mirrored from this store so far")
        self._lock = _lock(directory / LOCK_FILE) if writer else None
        self._database = Database(path)
        if writer:
            self._prepare()
        self.places: dict[str, int] = dict(self._database.rows("SELECT point, time FROM place"))

    def state(self) -> State:
        return State(*self._database.row("SELECT entries, hash, sent, problem, problem_since, too_old FROM state"))

    def sent_readings(self, moments: Iterable[Moment], now: int) -> None:
        """The server keeps these; they are in order of time within each point, and newer than what it had of that point."""
        moments = list(moments)
        places = {moment.point: moment.time for moment in moments}
        rows = Counter((moment.point, moment.time // HOUR) for moment in moments for _ in moment.lines)
        with self._database.transaction():
            self._database.execute_many(
                "INSERT INTO place VALUES (?, ?) ON CONFLICT DO UPDATE SET time = excluded.time", places.items()
            )
            self._database.execute_many(
                "INSERT INTO hour VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET rows = rows + excluded.rows",
                [(*key, count) for key, count in rows.items()],
            )
            self._success(now)
        self.places |= places

    def sent_hour(self, point: str, hour: int, rows: int, now: int) -> None:
        """The server keeps all readings that this hour has by now."""
        with self._database.transaction():
            self._database.execute(
                "INSERT INTO hour VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET rows = excluded.rows", (point, hour, rows)
            )
            self._success(now)

    def sent_entries(self, entries: int, hash: str, now: int | None) -> None:
        """All journal entries up to this one are dealt with; `now` is None if there was nothing to send among them."""
        with self._database.transaction():
            self._database.execute("UPDATE state SET entries = ?, hash = ?", (entries, hash))
            if now is not None:
                self._success(now)

    def rows_sent(self, point: str, first_hour: int, end_hour: int) -> dict[int, int]:
        """Readings sent of a point, by hour, in [first_hour, end_hour)."""
        sql = "SELECT hour, rows FROM hour WHERE point = ? AND hour >= ? AND hour < ?"
        return dict(self._database.rows(sql, (point, first_hour, end_hour)))

    def set_aside(self, line: str, reason: str, now: int) -> None:
        self._database.execute("INSERT OR IGNORE INTO set_aside VALUES (?, ?, ?)", (line, reason, now))

    def aside(self, recent: int) -> tuple[int, list[tuple[str, str, int]]]:
        """How many lines were set aside, and the last ones: line, reason, time."""
        (count,) = self._database.row("SELECT count(*) FROM set_aside")
        rows = self._database.rows("SELECT line, reason, time FROM set_aside ORDER BY time DESC, rowid DESC LIMIT ?", (recent,))
        return count, rows

    def count_too_old(self, lines: int) -> None:
        self._database.execute("UPDATE state SET too_old = too_old + ?", (lines,))

    def note(self, problem: str | None, now: int) -> None:
        """Why nothing can be sent, or None; `problem_since` stays as long as there is any."""
        since = None if problem is None else (self.state().problem_since or now)
        self._database.execute("UPDATE state SET problem = ?, problem_since = ?", (problem, since))

    def forget(self) -> None:
        """Begin from the beginning. What was set aside is still known."""
        with self._database.transaction():
            self._database.execute("DELETE FROM place")
            self._database.execute("DELETE FROM hour")
            self._database.execute("UPDATE state SET entries = 0, hash = NULL")
        self.places.clear()

    def close(self) -> None:
        self._database.close()
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None

    def _prepare(self) -> None:
        # Losing the last step in a power cut only means that some lines are sent twice, so a commit needn't wait for the disk.
        self._database.row("PRAGMA journal_mode = WAL")
        self._database.execute("PRAGMA synchronous = NORMAL")
        (version,) = self._database.row("PRAGMA user_version")
        if version == 0:
            with self._database.transaction():
                for statement in _TABLES:
                    self._database.execute(statement)
        elif version != FORMAT:
            raise StoreError(f"{self._database.path}: of another version of this program; delete it, and all is mirrored again")

    def _success(self, now: int) -> None:
        self._database.execute("UPDATE state SET sent = ?, problem = NULL, problem_since = NULL", (now,))


def _lock(path: Path) -> int:
    """Held by an open file, given back by the kernel even if the process is killed."""
    try:
        file = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as problem:
        raise StoreError(f"{path}: {problem.strerror}; this user must be able to write in that folder") from None
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(file)
        raise StoreError(f"{path}: another mirror of this store is running; stop it first") from None
    return file
