"""A store of schema 1 is copied, then brought to the newest; every entry and reading as it was."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from booth.store import Draft, Reading, Store, StoreError, schema, sealing
from booth.times import HOUR, SECOND

H = 1_783_944_000_000_000
COPY = "booth.sqlite.schema-1"


@pytest.fixture
def old(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store as the first schema had it, with a journal and an hour of readings."""
    with monkeypatch.context() as before:
        before.setattr(schema, "MIGRATIONS", schema.MIGRATIONS[:1])
        with Store.open(tmp_path, writer=True) as store:
            store.journal.append([Draft("note", {"n": n}, n, n, "test", private={"by": "badge-1"}) for n in range(3)])
    with closing(sqlite3.connect(tmp_path / "booth.sqlite", isolation_level=None)) as connection:
        connection.execute("INSERT INTO point VALUES (1, 'north/air')")
        connection.execute("INSERT INTO unit VALUES (1, 'degC')")
        rows = [(1, H + n * SECOND, 0, f"{n / 10}", 1, n / 10, 1, H + n * SECOND + 7, "good") for n in range(3600)]
        connection.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)
    assert version(tmp_path / "booth.sqlite") == 1
    return tmp_path


def version(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA user_version").fetchone()[0]


def test_an_older_store_is_copied_then_migrated(old: Path, caplog: pytest.LogCaptureFixture) -> None:
    with Store.open(old, writer=True) as store:
        told = f"bringing it from schema 1 to {len(schema.MIGRATIONS)}; as it is now, it is kept in {old / COPY}"
        assert caplog.messages == [f"{old / 'booth.sqlite'}: {told}"]
        assert (store.journal.verify().ok, store.journal.head().entries) == (True, 3)
        assert store.readings.counts() == {"north/air": 3600}
        before = list(store.readings.rows("north/air", 0, 2**62))
        assert before[5] == Reading("north/air", H + 5 * SECOND, H + 5 * SECOND + 7, "0.5", "degC", 0.5, 1)
        assert store.readings.seal(H + HOUR).readings == 3600
        assert list(store.readings.rows("north/air", 0, 2**62)) == before
        assert store.readings.verify().problems == ()
    assert version(old / "booth.sqlite") == len(schema.MIGRATIONS)
    assert version(old / COPY) == 1
    with closing(sqlite3.connect(old / COPY)) as copy:
        assert copy.execute("SELECT count(*), sum(value) FROM reading").fetchone() == (3600, pytest.approx(647_820))
        assert copy.execute("SELECT count(*) FROM journal").fetchone() == (3,)
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_the_second_opening_copies_nothing(old: Path, caplog: pytest.LogCaptureFixture) -> None:
    Store.open(old).close()
    (old / COPY).unlink()
    caplog.clear()
    Store.open(old).close()
    assert (caplog.messages, (old / COPY).exists()) == ([], False)


def test_a_new_store_needs_no_copy(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    Store.open(tmp_path, create=True).close()
    assert (caplog.messages, sorted(path.name for path in tmp_path.iterdir())) == ([], ["booth.sqlite"])


def test_without_a_copy_nothing_is_migrated(old: Path) -> None:
    (old / COPY).mkdir()  # nothing can be put in its place
    with pytest.raises(StoreError, match=r"booth\.sqlite\.schema-1: the copy of .* can't be written"):
        Store.open(old)
    assert version(old / "booth.sqlite") == 1
    (old / COPY).rmdir()
    Store.open(old).close()
    assert version(old / COPY) == 1


@pytest.fixture
def second(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store as the second schema had it: two hours, one of them sealed."""
    with monkeypatch.context() as before:
        before.setattr(schema, "MIGRATIONS", schema.MIGRATIONS[:2])
        before.setattr(sealing, "_NEXT_CHUNK", "SELECT coalesce(max(id), 0) + 1 FROM chunk")  # as it was then
        with Store.open(tmp_path, writer=True) as store:
            times = [H + n * SECOND for n in range(7200)]
            store.readings.append([Reading("north/air", time, time + 7, "21.4", "degC", 21.4, 1) for time in times])
            assert store.readings.seal(H + HOUR).readings == 3600
    return tmp_path


def test_sealed_hours_of_the_second_schema_are_kept_as_they_are(second: Path) -> None:
    with closing(sqlite3.connect(second / "booth.sqlite")) as connection:
        before = connection.execute("SELECT * FROM chunk").fetchall(), connection.execute("SELECT * FROM sealed_hour").fetchall()
    with Store.open(second) as store:  # whoever opens it first brings it up, not the logger alone
        assert store.readings.verify().problems == ()
        assert store.readings.counts() == {"north/air": 7200}
        assert store.readings.seal(H + 2 * HOUR).readings == 3600
    assert version(second / "booth.sqlite.schema-2") == 2
    with closing(sqlite3.connect(second / "booth.sqlite")) as connection:
        chunks, hours = (connection.execute(f"SELECT * FROM {table} LIMIT 1").fetchall() for table in ("chunk", "sealed_hour"))
    assert (chunks, hours) == before


def test_the_copy_can_be_opened_where_the_migration_was_a_mistake(second: Path, tmp_path: Path) -> None:
    Store.open(second).close()
    again = tmp_path / "again"
    again.mkdir()
    (second / "booth.sqlite.schema-2").rename(again / "booth.sqlite")
    with Store.open(again, writer=True) as store:
        assert store.readings.counts() == {"north/air": 7200}
        assert store.readings.verify().ok


@pytest.mark.parametrize("writer", [False, True])
def test_a_store_from_the_future_is_refused_and_left_alone(tmp_path: Path, writer: bool) -> None:
    Store.open(tmp_path, create=True).close()
    newest = len(schema.MIGRATIONS)
    with closing(sqlite3.connect(tmp_path / "booth.sqlite")) as connection:
        connection.execute(f"PRAGMA user_version = {newest + 1}")
    sentence = rf"by a newer version of this program \(schema {newest + 1}, known here {newest}\); update"
    with pytest.raises(StoreError, match=sentence):
        Store.open(tmp_path, writer=writer)
    assert version(tmp_path / "booth.sqlite") == newest + 1
    assert not list(tmp_path.glob("*.schema-*"))
