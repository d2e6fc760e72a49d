"""The store: one folder with one SQLite file, and a lock that lets one logger write readings."""

from __future__ import annotations

import fcntl
import os
from contextlib import AbstractContextManager, suppress
from pathlib import Path

from booth.store import schema
from booth.store.database import Database, StoreError
from booth.store.journal import Journal
from booth.store.quarantine import Quarantine
from booth.store.readings import Readings

FILE = "booth.sqlite"
LOCK_FILE = "logger.lock"


class Store:
    """Journal, readings and quarantine of one site. Use it in the thread that opened it; other threads open their own."""

    def __init__(self, database: Database, lock: WriterLock | None, writable: bool | None = None) -> None:
        self._database = database
        self._lock = lock
        self.journal = Journal(database)
        self.readings = Readings(database, writable=lock is not None if writable is None else writable)
        self.quarantine = Quarantine(database)

    @classmethod
    def open(cls, directory: str | os.PathLike[str], *, writer: bool = False, create: bool = False) -> Store:
        """Open the store in a folder. The `writer` (one process at a time) may append readings, and creates what isn't there.
        Others read, and append to the journal; they create a store only if told to, or a mistyped folder would look like an
        empty shop.

        Raises StoreError: no store there, another logger is writing, a newer schema, a damaged or foreign file.
        """
        directory = Path(directory)
        path = directory / FILE
        if writer or create:
            _make_folder(directory)
        elif not path.is_file():
            raise StoreError(f"{path}: there is no store here; name another --store, or let 'booth run' make one")
        lock = WriterLock(directory / LOCK_FILE) if writer else None
        try:
            return cls(_open_database(path), lock)
        except BaseException:
            if lock:
                lock.release()
            raise

    @classmethod
    def in_memory(cls) -> Store:
        """A store that is gone when it is closed: for what is played and thrown away."""
        return cls(_open_database(Path(":memory:")), None, writable=True)

    def transaction(self) -> AbstractContextManager[None]:
        """All writes inside `with store.transaction():` are one commit, or none of them is kept."""
        return self._database.transaction()

    def used_bytes(self) -> int:
        """Bytes of the file that hold something; the rest of it, where rows were until they were sealed, is used again."""
        return self._database.row(
            "SELECT (page_count - freelist_count) * page_size FROM pragma_page_count, pragma_freelist_count, pragma_page_size"
        )[0]

    def close(self) -> None:
        self._database.close()
        if self._lock:
            self._lock.release()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class WriterLock:
    """The right to write readings: held by one open file, given back by the kernel even if the process is killed."""

    def __init__(self, path: Path) -> None:
        """Take the lock. Raises StoreError with the process that holds it."""
        try:
            self._file = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        except OSError as problem:
            raise StoreError(f"{path}: {problem.strerror}; this user must be able to write in that folder") from None
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            holder = os.read(self._file, 20).decode("ascii", "replace").strip() or "unknown"
            os.close(self._file)
            raise StoreError(
                f"{path.parent}: another logger (process {holder}) is writing here; stop it first, or name another --store"
            ) from None
        with suppress(OSError):  # a full disk costs the next one our number, not us the lock
            os.ftruncate(self._file, 0)
            os.write(self._file, f"{os.getpid()}\n".encode())

    def release(self) -> None:
        """Give the lock back; the file stays, since removing it would race with the next logger."""
        if self._file >= 0:
            os.ftruncate(self._file, 0)
            os.close(self._file)
            self._file = -1


def _make_folder(directory: Path) -> None:
    try:
        directory.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise StoreError(f"{directory}: the folder can't be made ({problem.strerror}); name another --store") from None


def _open_database(path: Path) -> Database:
    database = Database(path)
    try:
        schema.prepare(database)
    except BaseException:
        database.close()
        raise
    return database
