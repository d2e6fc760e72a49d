"""A copy of a store's file while it is in use, by SQLite's own online backup: whole, or not there."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from booth.store.database import StoreError


def copy_file(source: Path, target: Path) -> None:
    """Copy all that is committed in `source`, in one step: writers go on meanwhile, and none of what they add is in the copy.

    `target` appears under its name when all of it is on the disk. Raises StoreError when it can't be written.
    """
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        with closing(sqlite3.connect(source)) as reading, closing(sqlite3.connect(part)) as writing:
            reading.backup(writing)
        put_in_place(part, target)
    except (sqlite3.Error, OSError) as problem:
        part.unlink(missing_ok=True)
        raise StoreError(f"{target}: the copy of {source} can't be written ({problem}); see to space and permissions") from None


def put_in_place(part: Path, target: Path) -> None:
    """Give a finished file its name, so that it is there after a power cut, too."""
    for path, rename in ((part, True), (target.parent, False)):
        descriptor = os.open(path, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        if rename:
            os.replace(part, target)


def copy_beside(source: Path, why: str) -> Path:
    """Copy a store's file to one beside it; `booth.sqlite`, before schema 2, to `booth.sqlite.schema-1`."""
    target = source.with_name(f"{source.name}.{why}")
    copy_file(source, target)
    return target
