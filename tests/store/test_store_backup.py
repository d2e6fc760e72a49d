"""Backups are made while the logger writes, checked, restored, and never laid over anything.

SHA-256 comes from hashlib (FIPS 180-4, vectors in test_store_chain.py), the sum's form from `sha256sum` of GNU coreutils.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable
from pathlib import Path
from time import sleep
from typing import Any

import pytest

from booth.store import Draft, Reading, Store, StoreError
from booth.store.backup import backup, restore
from booth.times import HOUR, MINUTE

H = 1_783_944_000_000_000


def readings(first: int, past: int) -> list[Reading]:
    return [Reading("north/air", H + n * MINUTE, H + n * MINUTE + 9, f"{n}.0", "degC", float(n), 1) for n in range(first, past)]


@pytest.fixture
def filled(store: Store, tmp_path: Path) -> Path:
    """A store with a journal, sealed hours and hot rows; returns its folder."""
    store.journal.append([Draft("note", {"n": n}, n, n, "test", private={"by": "badge-1"}) for n in range(5)])
    store.readings.append(readings(0, 200))
    store.readings.seal(H + 2 * HOUR)
    return tmp_path / "store"


def test_what_was_backed_up_can_be_restored(filled: Path, store: Store, tmp_path: Path) -> None:
    copied = backup(filled, tmp_path / "backup" / "monday")
    assert (copied.entries, copied.head, copied.readings) == (5, store.journal.head().hash, 200)
    data = (tmp_path / "backup" / "monday" / "booth.sqlite").read_bytes()
    assert (tmp_path / "backup" / "monday" / "booth.sqlite.sha256").read_text() == (
        f"{hashlib.sha256(data).hexdigest()}  booth.sqlite\n"
    )
    store.readings.append(readings(200, 210))
    assert restore(tmp_path / "backup" / "monday", tmp_path / "new") == copied
    with Store.open(tmp_path / "new", writer=True) as restored:
        assert list(restored.readings.rows("north/air", 0, 2**62)) == readings(0, 200)
        assert [entry.private for entry in restored.journal.entries()] == [{"by": "badge-1"}] * 5
        assert (restored.journal.verify(copied.head).ok, restored.readings.verify().hours) == (True, 2)
        restored.readings.append(readings(200, 210))
        assert list(restored.readings.rows("north/air", 0, 2**62)) == list(store.readings.rows("north/air", 0, 2**62))


def test_a_backup_holds_whole_commits_while_the_logger_goes_on(filled: Path, tmp_path: Path) -> None:
    done, written = threading.Event(), []

    def write() -> None:
        with Store.open(filled) as other:
            while not done.is_set():
                with other.transaction():
                    other.journal.append([Draft("note", {}, 0, 0, "test"), Draft("note", {}, 0, 0, "test")])
                written.append(1)

    writer = threading.Thread(target=write)
    writer.start()
    while not written:
        sleep(0.001)
    before = len(written)
    copied = backup(filled, tmp_path / "backup")
    done.set()
    writer.join()
    assert (copied.entries - 5) % 2 == 0 and copied.entries >= 5 + 2 * before


def test_nothing_is_overwritten(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "backup")
    for target in (tmp_path / "backup", filled):
        with pytest.raises(StoreError, match="there is a store or a backup here already; name a new folder"):
            backup(filled, target)
        with pytest.raises(StoreError, match="not an empty folder"):
            restore(tmp_path / "backup", target)
    with pytest.raises(StoreError, match="there is no store here"):
        backup(tmp_path / "nowhere", tmp_path / "other")
    with pytest.raises(StoreError, match="there is no finished backup here"):
        restore(filled, tmp_path / "new")
    assert not (tmp_path / "new").exists() and not (tmp_path / "other").exists()


def test_a_changed_backup_is_not_restored(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "backup")
    path = tmp_path / "backup" / "booth.sqlite"
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    with pytest.raises(StoreError, match="isn't the file that was backed up"):
        restore(tmp_path / "backup", tmp_path / "new")
    assert list((tmp_path / "new").iterdir()) == []


def test_a_broken_store_makes_no_finished_backup(filled: Path, store: Store, tmp_path: Path, forger: Callable[..., Any]) -> None:
    forger("UPDATE chunk SET bytes = CAST('no chunk' AS BLOB) WHERE id = 1")
    with pytest.raises(StoreError, match="this copy isn't whole, check its original, too: north/air, hour .* 60 readings"):
        backup(filled, tmp_path / "backup")
    with pytest.raises(StoreError, match="no finished backup"):
        restore(tmp_path / "backup", tmp_path / "new")
