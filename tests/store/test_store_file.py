"""The file: created, versioned, joined in one commit; what is refused, and in which words. And the quarantine.

SQLite's own switches stand in for a failing disk: max_page_count for a full one, query_only for one that can't be written.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from booth.store import Draft, Reading, Store, StoreError, schema
from booth.store.quarantine import PAYLOAD_BYTES, Quarantined


def note(id: str, text: str = "") -> Draft:
    return Draft("note", {"text": text}, 0, 0, "test", id)


def reading(time: int) -> Reading:
    return Reading("north/air", time, 0, "1", "degC", 1.0, 1)


def test_a_mistyped_folder_is_not_an_empty_shop(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="there is no store here"):
        Store.open(tmp_path / "typo")
    assert not (tmp_path / "typo").exists()
    with Store.open(tmp_path / "new", create=True) as store:
        assert store.journal.verify().ok


def test_how_the_file_is_kept(store: Store, outsider: sqlite3.Connection) -> None:
    assert outsider.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert outsider.execute("PRAGMA user_version").fetchone() == (len(schema.MIGRATIONS),)


def test_everything_survives_a_reopening(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        store.journal.append([note("a")])
        store.readings.append([reading(1)])
        head = store.journal.head()
    with Store.open(tmp_path) as store:
        assert (store.journal.head(), store.readings.counts()) == (head, {"north/air": 1})


def test_a_transaction_joins_all_or_nothing(store: Store, tmp_path: Path) -> None:
    with Store.open(tmp_path / "store") as other:
        with store.transaction():
            store.journal.append([note("a")])
            store.readings.append([reading(1)])
            assert other.journal.head().entries == 0
        assert other.journal.head().entries == 1
        with pytest.raises(KeyError), store.transaction():
            store.journal.append([note("b")])
            store.readings.append([reading(2)])
            raise KeyError
        assert (other.journal.head().entries, other.readings.counts()) == (1, {"north/air": 1})


def test_a_part_of_a_transaction_can_fail_alone(store: Store) -> None:
    with store.transaction():
        store.journal.append([note("a")])
        with pytest.raises(StoreError):
            store.journal.append([note("b"), Draft("note", {"n": float("nan")}, 0, 0, "test")])
        store.journal.append([note("c")])
    assert [entry.id for entry in store.journal.entries()] == ["a", "c"]


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        ("PRAGMA user_version = 99", "newer version of this program .schema 99"),
        ("PRAGMA application_id = 1", "some other program"),
    ],
)
def test_newer_and_foreign_files_are_refused(tmp_path: Path, make: str, sentence: str) -> None:
    Store.open(tmp_path, create=True).close()
    with closing(sqlite3.connect(tmp_path / "booth.sqlite")) as connection:
        connection.execute(make)
    with pytest.raises(StoreError, match=sentence):
        Store.open(tmp_path)


def test_a_failed_migration_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Store.open(tmp_path, create=True).close()
    known = len(schema.MIGRATIONS)
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, ("CREATE TABLE second (x)", "CREATE nonsense")))
    with pytest.raises(StoreError, match="syntax error"):
        Store.open(tmp_path)
    with closing(sqlite3.connect(tmp_path / "booth.sqlite")) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (known,)
        assert connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'second'").fetchone() == (0,)
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS[:known], ("CREATE TABLE second (x)",)))
    Store.open(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / "booth.sqlite")) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (known + 1,)


def test_a_full_disk_keeps_nothing_of_the_batch_and_says_so(store: Store) -> None:
    store._database.execute("PRAGMA max_page_count = 40")
    with pytest.raises(StoreError, match=r"booth\.sqlite: the disk is full; nothing of this write was kept"):
        store.journal.append([note(str(n), "x" * 5000) for n in range(100)])
    store._database.execute("PRAGMA max_page_count = 100000")
    assert store.journal.head().entries == 0
    assert store.journal.append([note("a")])[0].new


def test_a_disk_that_cannot_be_written_says_so(store: Store) -> None:
    store._database.execute("PRAGMA query_only = ON")
    with pytest.raises(StoreError, match="can't be written; give this user write permission"):
        store.journal.append([note("a")])


def test_a_folder_that_cannot_be_made_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="the folder can't be made .* name another --store"):
        Store.open(tmp_path / "file", writer=True)


def test_use_after_closing_is_an_error_in_words(store: Store) -> None:
    store.close()
    with pytest.raises(StoreError, match="closed"):
        store.journal.head()


def test_quarantine_keeps_the_beginning_and_counts(store: Store) -> None:
    long = bytes(range(256)) * 40
    items = [
        Quarantined(1, "mqtt", "shop/north/humidity", "not-json", "not JSON: write an object", b"\xff\x00"),
        Quarantined(2, "replay", "shift.csv:12", "future", "from the future", long),
        Quarantined(3, "mqtt", "shop/north/\ud800", "not-json", "quotes \ud800", b""),
    ]
    store.quarantine.append(items)
    assert store.quarantine.counts() == {"future": 1, "not-json": 2}
    last, middle = store.quarantine.recent(2)
    assert (last.origin, last.sentence, last.length) == ("shop/north/\\ud800", "quotes \\ud800", 0)
    assert (middle.payload, middle.length) == (long[:PAYLOAD_BYTES], 10240)
    assert store.quarantine.recent(9)[-1].payload == b"\xff\x00"
    assert store.quarantine.recent(0) == []
