"""Files as disks and people leave them: cut short, overwritten, with a page of nothing. What is lost is said, the rest is served.

How SQLite lays out its pages is its own file format's (https://www.sqlite.org/fileformat2.html, sections 1.3 and 1.6).
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from booth.store import Draft, Reading, Store, StoreError
from booth.times import HOUR, SECOND

H = 1_783_944_000_000_000
AIR, PART = "north/air", "south/part"
HOURS = 6
RESTORE = "damaged; keep this file for evidence and restore the last backup"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Two points, six hours of rows, a journal; all of it in the file and not in its log."""
    with Store.open(tmp_path, writer=True) as store:
        store.journal.append([Draft("note", {"n": n}, H, H, "test") for n in range(20)])
        for point in (AIR, PART):
            times = [H + n * SECOND for n in range(0, HOURS * 3600, 2)]
            store.readings.append([Reading(point, one, one + 9, "21.4", "degC", 21.4, 1) for one in times])
    with closing(sqlite3.connect(tmp_path / "booth.sqlite")) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return tmp_path / "booth.sqlite"


def page_size(path: Path) -> int:
    return int.from_bytes(path.read_bytes()[16:18], "big")


def leaves(path: Path, table: str) -> list[int]:
    """Numbers of the leaf pages of a table without rowids (kind 0x0a), by way of its root's and its inner pages' children."""
    data, size = path.read_bytes(), page_size(path)
    with closing(sqlite3.connect(path)) as connection:
        (root,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)).fetchone()

    def below(number: int) -> list[int]:
        page = data[(number - 1) * size : number * size]
        if page[0] == 0x0A:
            return [number]
        assert page[0] == 0x02
        cells = [int.from_bytes(page[12 + 2 * n : 14 + 2 * n], "big") for n in range(int.from_bytes(page[3:5], "big"))]
        children = [int.from_bytes(page[at : at + 4], "big") for at in cells] + [int.from_bytes(page[8:12], "big")]
        return [leaf for child in children for leaf in below(child)]

    return below(root)


def overwrite(path: Path, number: int, data: bytes) -> None:
    with path.open("r+b") as file:
        file.seek((number - 1) * page_size(path))
        file.write(data)


@pytest.mark.parametrize("filling", [b"\0", b"\xff"])
def test_a_damaged_page_of_rows_costs_its_hours_only(path: Path, filling: bytes) -> None:
    pages = leaves(path, "reading")
    overwrite(path, pages[len(pages) // 4], filling * page_size(path))  # in the middle of the first point
    with Store.open(path.parent) as store:
        series = store.readings.evidence(AIR, H, H + HOURS * HOUR, 10 * SECOND)
        rows = list(store.readings.rows(AIR, H, H + HOURS * HOUR))
        assert 0 < len(rows) == len(series) < HOURS * 1800
        hours = {lost.hour for lost in store.readings.lost}
        assert {lost.point for lost in store.readings.lost} == {AIR} and 1 <= len(hours) <= 2
        gone = {H + n * SECOND for n in range(0, HOURS * 3600, 2)} - {row.time for row in rows}
        assert {one // HOUR * HOUR for one in gone} == hours, "an hour is served whole or named as lost"
        assert "unsealed readings are lost" in str(store.readings.lost[0])
        assert len(store.readings.evidence(PART, H, H + HOURS * HOUR, 10 * SECOND)) == HOURS * 1800
        assert store.journal.verify().ok and len(list(store.journal.entries())) == 20
        found = store.readings.verify()
        assert not found.ok and any("reading" in problem for problem in found.problems)


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda data: b"this was a database once\n" * 400, "not an SQLite database; move it away"),
        (lambda data: data[:16] + b"\0" * 84 + data[100:], "not an SQLite database|restore the last backup|damaged"),
        (lambda data: data[:100] + b"\xff" * 400 + data[500:], RESTORE),
        (lambda data: data[: len(data) * 3 // 4], RESTORE),
        (lambda data: data[:50], "not an SQLite database|damaged|some other program"),
    ],
    ids=["garbage", "no header", "no schema", "three quarters", "fifty bytes"],
)
@pytest.mark.parametrize("writer", [False, True])
def test_a_file_that_cannot_be_opened_says_what_to_do(path: Path, spoil, sentence: str, writer: bool) -> None:
    before = spoil(path.read_bytes())
    path.write_bytes(before)
    with pytest.raises(StoreError, match=sentence) as refused:
        Store.open(path.parent, writer=writer)
    assert str(path) in str(refused.value)
    assert path.read_bytes() == before, "evidence is left as it is"


def test_the_logger_says_so_and_keeps_its_lock_free(path: Path) -> None:
    path.write_bytes(b"garbage " * 1000)
    for _ in range(2):
        with pytest.raises(StoreError, match="not an SQLite database"):
            Store.open(path.parent, writer=True)
