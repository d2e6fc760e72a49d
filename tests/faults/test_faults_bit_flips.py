"""Single bits flipped in a store's file: `booth verify` or `booth store --check` finds it, or everything reads back as it was.

What they look for is Journal.verify and Readings.verify; opening the file may refuse it first. Where neither says anything, every
entry, disclosed text, reading, summary and evidence hash is read and compared with what was there before the flip. Bits
that carry nothing are in the rest of a page that no cell uses, in freed pages and cells, and in counters of the file's head that
no reader needs (SQLite's file format, sqlite.org/fileformat2.html: change counter, version-valid-for, cache size, the last
writer's version). Hot readings have no checksum of their own until they are sealed: all of these are sealed.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
import struct
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from booth.store import Draft, Reading, Store, StoreError
from booth.times import HOUR, MINUTE

H = 1_783_944_000_000_000
POINTS = ("north/air", "south/air")
SEED = 20260713
COLUMNS = {
    "journal": ("bytes", "hash", "id", "kind", "recorded", "effective", "channel", "vehicle"),
    "disclosure": ("name", "salt", "text"),
    "chunk": ("bytes",),
    "sealed_hour": (
        *("hour", "sha256", "size", "count", "first_time", "last_time", "longest_gap"),
        *("usable", "low", "mean", "high", "first", "last"),
    ),
    "point": ("text",),
}
IDENTITY = {"journal": "seq", "disclosure": "seq, name", "chunk": "id", "sealed_hour": "point, hour", "point": "id"}


@pytest.fixture(scope="module")
def origin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small store: entries with private texts, one redacted; sealed hours; nothing left in the write-ahead log."""
    folder = tmp_path_factory.mktemp("origin")
    with Store.open(folder, writer=True) as store:
        store.journal.append([_note(n) for n in range(40)])
        store.journal.redact(7, ["text"])
        for point in POINTS:
            store.readings.append([_reading(point, n) for n in range(90)])
        store.readings.append([_reading("north/air", 5, 99.0)])  # a contradiction
        store.readings.seal(H + 9 * HOUR)
        assert all(held.hot == 0 for held in store.readings.held())
    with closing(sqlite3.connect(folder / "booth.sqlite")) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return folder


def _note(n: int) -> Draft:
    private = {"by": "badge-17", "text": f"remark {n} about the door, the sill and the weather"}
    return Draft("note", {"vehicle": f"TV-{n % 4}", "n": n}, n * MINUTE, n * MINUTE + 7, "cli", private=private)


def _reading(point: str, n: int, value: float | None = None) -> Reading:
    time, value = H + n * 2 * MINUTE, n / 8 if value is None else value
    return Reading(point, time, time + 31 * n, f"{value}", "degC", value, 1)


def everything(folder: Path) -> tuple:
    """All that the journal and the sealed readings say."""
    with Store.open(folder) as store:
        read = store.readings
        entries = list(store.journal.entries())
        found = [(entry, [store.journal.find(entry.id) == entry]) for entry in entries]
        by_van = [list(store.journal.entries(vehicle=f"TV-{n}")) for n in range(4)]
        notes = list(store.journal.entries(kinds=["note"]))
        rows = [list(read.rows(point, 0, 2**62)) for point in POINTS]
        series = [read.evidence(point, H, H + 9 * HOUR, MINUTE) for point in POINTS]
        usable = [(one.times.tolist(), one.values.tolist()) for one in series]
        hourly = [_plain(read.hourly(point, H, H + 9 * HOUR)) for point in POINTS]
        sha256 = read.evidence_sha256(POINTS, H, H + 9 * HOUR)
        rest = [(read.span(point), read.latest(point), read.gaps(point, MINUTE)) for point in POINTS]
        return found, by_van, notes, rows, usable, hourly, sha256, rest, read.held(), read.lost, store.journal.head()


def _plain(hourly: object) -> dict:
    return {name: column.tolist() if hasattr(column, "tolist") else column for name, column in vars(hourly).items()}


def said(folder: Path) -> str | None:
    """How a flip is found, or None."""
    try:
        with Store.open(folder) as store:
            if store.journal.verify().problems:
                return "by the journal's chain and tables"
            return "by the readings' checksums and tables" if store.readings.verify().problems else None
    except StoreError:
        return "by opening the file"


def flipped_copies(origin: Path, folder: Path, places: Iterator[int]) -> Iterator[tuple[int, Path]]:
    """A store's folder whose file differs from the origin's in one bit, for each place (in bits)."""
    data = (origin / "booth.sqlite").read_bytes()
    for place in places:
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        changed = bytearray(data)
        changed[place // 8] ^= 1 << place % 8
        (folder / "booth.sqlite").write_bytes(changed)
        yield place, folder


def test_bits_of_the_file(origin: Path, tmp_path: Path) -> None:
    """Anywhere in it."""
    before = everything(origin)
    assert before == everything(origin) and said(origin) is None
    bits = range((origin / "booth.sqlite").stat().st_size * 8)
    outcomes: Counter[str] = Counter()
    for place, folder in flipped_copies(origin, tmp_path / "flipped", iter(random.Random(SEED).sample(bits, 1000))):
        how = said(folder)
        if how is None:
            assert everything(folder) == before, f"bit {place % 8} of byte {place // 8} changes what is read, and nothing says so"
            how = "reads back as it was"
        outcomes[how] += 1
    print(dict(outcomes))
    assert outcomes.total() == 1000 and len(outcomes) == 4


def test_bits_of_entries_and_chunks(origin: Path, tmp_path: Path) -> None:
    """Where their bytes lie in the file: all of them are found."""
    data, chance = (origin / "booth.sqlite").read_bytes(), random.Random(SEED)
    with closing(sqlite3.connect(origin / "booth.sqlite")) as connection:
        kept = connection.execute("SELECT bytes FROM journal UNION ALL SELECT bytes FROM chunk").fetchall()
    found = [(data.find(piece), len(piece)) for (piece,) in kept]
    assert len(found) == 46 and all(first > 0 for first, _ in found)
    places = [bit for first, length in found for bit in range(first * 8, (first + length) * 8)]
    chosen = flipped_copies(origin, tmp_path / "flipped", iter(chance.sample(places, 1000)))
    assert [place for place, folder in chosen if said(folder) is None] == []


def test_bits_of_what_is_kept(origin: Path, tmp_path: Path) -> None:
    """Not in free space this time: in the columns themselves, behind the back of the file's triggers. All of them are found."""
    chance, unnoticed = random.Random(SEED), []
    for number in range(700):
        folder = tmp_path / "flipped"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        shutil.copy(origin / "booth.sqlite", folder)
        with closing(sqlite3.connect(folder / "booth.sqlite", isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = OFF")
            where = _flip_a_column(connection, chance)
        if said(folder) is None:
            unnoticed.append(f"{number}: {where}")
    assert unnoticed == []


def _flip_a_column(connection: sqlite3.Connection, chance: random.Random) -> str:
    table = chance.choice(list(COLUMNS))
    column, identity = chance.choice(COLUMNS[table]), IDENTITY[table]
    found = connection.execute(f"SELECT {identity}, {column} FROM {table} WHERE {column} IS NOT NULL").fetchall()
    *keys, value = chance.choice(found)
    triggers = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        connection.execute(f"DROP TRIGGER {name}")
    condition = " AND ".join(f"{name} = ?" for name in identity.split(", "))
    connection.execute(f"UPDATE OR REPLACE {table} SET {column} = ? WHERE {condition}", (_flipped(value, chance), *keys))
    for _, sql in triggers:
        connection.execute(sql)
    return f"{table}.{column} of {keys}"


def _flipped(value: object, chance: random.Random) -> object:
    """The value with one of its bits the other way, of the same type."""
    if isinstance(value, int):
        return value ^ 1 << chance.randrange(62)
    if isinstance(value, float):
        (bits,) = struct.unpack("<q", struct.pack("<d", value))
        return struct.unpack("<d", struct.pack("<q", bits ^ 1 << chance.randrange(63)))[0]
    data = bytearray(value.encode() if isinstance(value, str) else value)
    data[chance.randrange(len(data))] ^= 1 << chance.randrange(7)  # a text stays ASCII
    return data.decode() if isinstance(value, str) else bytes(data)
