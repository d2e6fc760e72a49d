"""What is cut (tests/faults/cuts.py): each operation with the store before it, and what must hold after a cut at any step."""

from __future__ import annotations

import contextlib
import io
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from booth.cli import main as booth
from booth.intake import take
from booth.readers.received import EventIn, ReadingIn
from booth.store import Draft, Reading, Store, StoreError, schema
from booth.store.backup import backup, restore
from booth.times import HOUR, MINUTE
from tests.app.plants import CONFIG

H = 1_783_944_000_000_000
POINTS = ("north/air", "south/air")
EVENT_ID = "5025925a-d5ad-5826-a7ab-e9043729e633"
NOTE = EventIn(
    "north", {"id": EVENT_ID, "event": "note", "by": "badge-3", "vehicle": "V-1", "text": "hello"}, H, H, "shop/north/event"
)


@dataclass(frozen=True)
class Operation:
    """`check(folder, finished)` raises AssertionError where the cut did harm, and then does the operation again."""

    prepare: Callable[[Path], None]
    act: Callable[[Path], None]
    check: Callable[[Path, bool], None]


def readings(point: str, numbers: range) -> list[Reading]:
    """One every five minutes."""
    times = ((n, H + n * 5 * MINUTE) for n in numbers)
    return [Reading(point, time, time + 9, f"{n / 10}", "degC", n / 10, 1) for n, time in times]


def whole(folder: Path, per_point: int = 36, entries: int = 5) -> None:
    """Every reading once and as it was sent, every entry, every checksum."""
    with Store.open(folder) as store:
        for point in POINTS:
            assert list(store.readings.rows(point, 0, 2**62)) == readings(point, range(per_point)), f"{point} is not as sent"
        journal, found = store.journal.verify(), store.readings.verify()
        assert (journal.problems, journal.entries, found.problems) == ((), entries, ())


def _filled(folder: Path) -> None:
    with Store.open(folder, writer=True) as store:
        store.journal.append([Draft("note", {"n": n}, n, n, "test", private={"by": "badge-1"}) for n in range(5)])
        for point in POINTS:
            store.readings.append(readings(point, range(36)))


def _seal(folder: Path) -> None:
    with Store.open(folder, writer=True) as store:
        store.readings.seal(H + 3 * HOUR)


def _check_sealed(folder: Path, finished: bool) -> None:
    whole(folder)
    _seal(folder)
    whole(folder)
    with Store.open(folder) as store:
        assert {(one.hot, one.sealed) for one in store.readings.held()} == {(0, 36)}


def _prepare_sealed(folder: Path) -> None:
    _filled(folder / "store")
    _seal(folder / "store")


def _back_up(folder: Path) -> None:
    backup(folder / "store", folder / "backup")


def _check_backup(folder: Path, finished: bool) -> None:
    """A backup that isn't finished isn't taken for one; a finished one gives everything back."""
    whole(folder / "store")
    try:
        restore(folder / "backup", folder / "new")
    except StoreError as problem:
        assert not finished and "no finished backup" in str(problem), problem
    else:
        whole(folder / "new")
    backup(folder / "store", folder / "another")
    restore(folder / "another", folder / "new from another")
    whole(folder / "new from another")


def _prepare_restore(folder: Path) -> None:
    _prepare_sealed(folder)
    _back_up(folder)


def _restore(folder: Path) -> None:
    restore(folder / "backup", folder / "new")


def _check_restored(folder: Path, finished: bool) -> None:
    """A store that is half restored isn't taken for one."""
    if (folder / "new" / "booth.sqlite").exists():
        whole(folder / "new")
    else:
        assert not finished
    restore(folder / "backup", folder / "again")
    whole(folder / "again")


def _prepare_old(folder: Path) -> None:
    """A store as the first schema had it."""
    now, schema.MIGRATIONS = schema.MIGRATIONS, schema.MIGRATIONS[:1]
    try:
        with Store.open(folder, writer=True) as store:
            store.journal.append([Draft("note", {"n": n}, n, n, "test", private={"by": "badge-1"}) for n in range(5)])
    finally:
        schema.MIGRATIONS = now
    with closing(sqlite3.connect(folder / "booth.sqlite", isolation_level=None)) as old:
        old.execute("INSERT INTO unit VALUES (1, 'degC')")
        for number, point in enumerate(POINTS, start=1):
            old.execute("INSERT INTO point VALUES (?, ?)", (number, point))
            rows = [(number, one.time, 0, one.sent, 1, one.value, 1, one.arrived, "good") for one in readings(point, range(36))]
            old.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)


def _open(folder: Path) -> None:
    Store.open(folder, writer=True).close()


def _check_migrated(folder: Path, finished: bool) -> None:
    """Old or new, never between; and where it is new, the copy of the old one is there and whole."""
    copy, version = folder / "booth.sqlite.schema-1", _version(folder / "booth.sqlite")
    assert version in (1, len(schema.MIGRATIONS)) and (version != 1 or not finished)
    if version != 1 or copy.exists():
        assert _version(copy) == 1
        with closing(sqlite3.connect(copy)) as old:
            assert old.execute("SELECT count(*) FROM reading").fetchone() == (72,)
            assert old.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    whole(folder)
    assert _version(folder / "booth.sqlite") == len(schema.MIGRATIONS)


def _version(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA user_version").fetchone()[0]


def _create(folder: Path) -> None:
    Store.open(folder / "store", create=True).close()


def _check_created(folder: Path, finished: bool) -> None:
    _create(folder)
    with Store.open(folder / "store") as store:
        assert (store.journal.verify().problems, store.readings.verify().problems) == ((), ())


def _prepare_event(folder: Path) -> None:
    folder.mkdir()
    _create(folder)


def _event(folder: Path) -> None:
    """`booth event`, whose answer counts only when it has been given."""
    sys.argv = ["booth", "event", "note", f"id={EVENT_ID}", "vehicle=V-1", "text=hello", "--by", "badge-3"]
    sys.argv += ["--store", str(folder / "store"), "--config", str(CONFIG)]
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.suppress(SystemExit):
        booth()
    assert "note" in out.getvalue(), "it said nothing"


def _check_event(folder: Path, finished: bool) -> None:
    with Store.open(folder / "store", create=True) as store:
        there = store.journal.find(EVENT_ID)
        assert store.journal.verify().problems == ()
        assert there is not None or not finished, "it said that it was written down"
        assert there is None or there.private["text"] == "hello"
    with contextlib.redirect_stdout(io.StringIO()):
        _event(folder)  # the person tries again
    with Store.open(folder / "store") as store:
        assert sum(entry.id == EVENT_ID for entry in store.journal.entries()) == 1
        assert store.journal.verify().problems == ()


def _batch(folder: Path) -> None:
    """What the logger commits before it acknowledges: readings and an event."""
    with Store.open(folder, writer=True) as store:
        take(store, [*map(_taken, readings("north/air", range(36, 40))), NOTE], H, "mqtt")


def _two_commits(folder: Path) -> None:
    """The same done wrongly, to show that cutting finds it."""
    with Store.open(folder, writer=True) as store:
        take(store, map(_taken, readings("north/air", range(36, 40))), H, "mqtt")
        take(store, [NOTE], H, "mqtt")


def _taken(one: Reading) -> ReadingIn:
    return ReadingIn(one.point, one.time, one.arrived, one.sent, one.unit, one.value, one.mapping)


def _check_batch(folder: Path, finished: bool) -> None:
    """All of it or nothing; sent again, each once."""
    with Store.open(folder) as store:
        new, event = store.readings.counts()["north/air"] - 36, store.journal.find(EVENT_ID)
        assert (new, event is None) in ((0, True), (4, False)) and (new == 4 or not finished), f"half a batch: {new}, {event}"
    _batch(folder)
    with Store.open(folder) as store:
        found = [(row.time, row.sent) for row in store.readings.rows("north/air", 0, 2**62)]
        assert found == [(one.time, one.sent) for one in readings("north/air", range(40))]
        assert (store.journal.verify().problems, store.journal.head().entries) == ((), 6)


OPERATIONS = {
    "creating": Operation(lambda folder: folder.mkdir(), _create, _check_created),
    "a batch": Operation(_filled, _batch, _check_batch),
    "a batch in two commits": Operation(_filled, _two_commits, _check_batch),  # wrong on purpose
    "sealing": Operation(_filled, _seal, _check_sealed),
    "a backup": Operation(_prepare_sealed, _back_up, _check_backup),
    "restoring": Operation(_prepare_restore, _restore, _check_restored),
    "a migration": Operation(_prepare_old, _open, _check_migrated),
    "booth event": Operation(_prepare_event, _event, _check_event),
}
