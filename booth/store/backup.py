"""Online backup of a store to a folder, and restoring it from there; both believed only when the copy has been checked.

A backup is the store's file and, beside it, its SHA-256 in the form that `sha256sum --check` reads.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from booth.store.copying import copy_file, put_in_place
from booth.store.database import StoreError
from booth.store.store import FILE, Store

SUM_FILE = f"{FILE}.sha256"


@dataclass(frozen=True)
class Copied:
    """What a backup holds, or what was restored: the file's SHA-256 in hex, the journal's length and head, readings, bytes."""

    sha256: str
    entries: int
    head: str
    readings: int
    bytes: int


def backup(store: os.PathLike[str], directory: os.PathLike[str]) -> Copied:
    """Copy a store into a folder without one, while others use it, and check the copy.

    Raises StoreError: there is a backup already, no space, or the copy isn't whole (it is left there for a look, without a sum).
    """
    source, target = Path(store) / FILE, Path(directory) / FILE
    Store.open(store).close()  # there is one, and of the newest schema: so that checking the copy leaves it as it is
    if target.exists():
        raise StoreError(f"{target}: there is a store or a backup here already; name a new folder for each backup")
    _make(target.parent)
    copy_file(source, target)
    copied = _check(target.parent)
    if _sha256(target) != copied.sha256:
        raise StoreError(f"{target}: it changed while it was checked; is somebody using this folder as a store?")
    _write(target.with_name(SUM_FILE), f"{copied.sha256}  {FILE}\n")
    return copied


def restore(directory: os.PathLike[str], store: os.PathLike[str]) -> Copied:
    """Copy a backup into an empty store folder, and check it. Raises StoreError: not empty, no backup, changed, or not whole."""
    source, target = Path(directory) / FILE, Path(store) / FILE
    if target.parent.exists() and (not target.parent.is_dir() or any(target.parent.iterdir())):
        raise StoreError(f"{target.parent}: not an empty folder; a backup is never laid over a store: name a new --store")
    expected = _noted(source)
    _make(target.parent)
    part = target.with_name(FILE + ".part")
    try:
        shutil.copyfile(source, part)
        if _sha256(part) != expected:
            raise StoreError(f"{source}: it isn't the file that was backed up (its SHA-256 differs); take another backup")
        put_in_place(part, target)
    except OSError as problem:
        raise StoreError(f"{target}: can't be restored ({problem.strerror}); see to space and permissions") from None
    finally:
        part.unlink(missing_ok=True)
    return _check(target.parent)


def _noted(source: Path) -> str:
    """The SHA-256 that was written beside a backup."""
    try:
        text = source.with_name(SUM_FILE).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        text = ""
    if not source.is_file() or len(text.split()) != 2:
        raise StoreError(f"{source.parent}: there is no finished backup here ({FILE} and {SUM_FILE}); name the folder of one")
    return text.split()[0]


def _check(directory: Path) -> Copied:
    """Open a copy and check all of it. Raises StoreError with the first problem."""
    sha256, size = _sha256(directory / FILE), (directory / FILE).stat().st_size
    with Store.open(directory) as copy:
        journal, readings = copy.journal.verify(), copy.readings.verify()
        problems = [*journal.problems, *readings.problems]
        if problems:
            raise StoreError(f"{directory / FILE}: this copy isn't whole, check its original, too: {problems[0]}")
        count = sum(copy.readings.counts().values())
    return Copied(sha256, journal.entries, journal.head, count, size)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _make(directory: Path) -> None:
    try:
        directory.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise StoreError(f"{directory}: the folder can't be made ({problem.strerror}); name another") from None


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as problem:
        raise StoreError(f"{path}: {problem.strerror}; see to space and permissions") from None
