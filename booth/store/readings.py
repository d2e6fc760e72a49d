"""Readings as sent: append-only, each kept once, contradictions kept side by side."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import rfc8785

from booth.judge.series import Series
from booth.store.database import Database, StoreError

GOOD = "good"
CONFLICT = "conflict"
_PAGE = 5000
_ALWAYS = 2**63 - 1
_COLUMNS = "point, time, sent, unit, value, mapping, arrived, quality"
_INSERT = f"INSERT OR IGNORE INTO reading ({_COLUMNS}, ordinal) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"


@dataclass(frozen=True)
class Reading:
    """One value of one point.

    `sent` is the decimal or word exactly as sent, in `unit`; `value` the same in the unit used inside, as version `mapping` of
    the point's mapping converts it. `time` is the instrument's, `arrived` ours (microseconds UTC).
    """

    point: str
    time: int
    arrived: int
    sent: str
    unit: str
    value: float
    mapping: int
    quality: str = GOOD


@dataclass(frozen=True)
class Stored:
    """What became of a batch; the three add up to its length. A conflict is kept too, beside what it contradicts."""

    stored: int
    duplicates: int
    conflicts: int


class Readings:
    """All readings of the store. Identity is (point, time); only the logger appends."""

    def __init__(self, database: Database, writable: bool) -> None:
        self._database = database
        self._writable = writable
        self._points = _Texts(database, "point")
        self._units = _Texts(database, "unit")

    def append(self, batch: Sequence[Reading]) -> Stored:
        """Keep a batch in one commit.

        The same value (as a number) of the same point and time again is a duplicate and leaves the first as it is; another
        value is kept beside it. Raises StoreError when this process isn't the logger, or for a value that isn't finite; then
        none is kept.
        """
        if not self._writable:
            raise StoreError(f"{self._database.path}: only the logger writes readings; open it as the writer")
        for reading in batch:
            if not math.isfinite(reading.value):
                raise StoreError(f"{reading.point}: {reading.sent!r} gives {reading.value}, which belongs in quarantine")
        with self._database.transaction():
            rows = [self._row(reading) for reading in batch]
            self._database.execute("SAVEPOINT batch")
            new = self._database.execute_many(_INSERT, rows)
            if new < len(rows):  # something was there already: find out what, one by one
                self._database.execute("ROLLBACK TO batch")
                outcome = [self._append_one(row) for row in rows]
                stored = Stored(*(outcome.count(word) for word in ("stored", "duplicate", "conflict")))
            else:
                stored = Stored(new, 0, 0)
            self._database.execute("RELEASE batch")
        return stored

    def evidence(self, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        """What the judge may use of a point in [start, end): good readings, and the last good one before `start` if it isn't
        older than `max_age_us` then. A time with contradicting values is left out. `known_by` limits all this to what had
        arrived by then.
        """
        number = self._points.number(point)
        rows = self._database.rows(
            "SELECT time, value, quality = ? FROM reading"
            " WHERE point = ? AND time >= ? AND time < ? AND arrived <= ? ORDER BY time",
            (GOOD, number, start - max_age_us, end, _ALWAYS if known_by is None else known_by),
        )
        table = np.array(rows, dtype=[("time", np.int64), ("value", np.float64), ("good", np.bool_)])
        same_as_next = table["time"][1:] == table["time"][:-1]
        usable = table["good"].copy()
        usable[1:] &= ~same_as_next
        usable[:-1] &= ~same_as_next
        table = table[usable]
        first = max(0, int(np.searchsorted(table["time"], start)) - 1)
        return Series(table["time"][first:].copy(), table["value"][first:].copy(), max_age_us)

    def rows(self, point: str, start: int, end: int, known_by: int | None = None) -> Iterator[Reading]:
        """Readings of a point in [start, end) as stored, of any quality, by time; contradicting ones one after the other."""
        number = self._points.number(point)
        sql = (
            f"SELECT {_COLUMNS}, ordinal FROM reading WHERE point = ? AND (time, ordinal) > (?, ?) AND time < ?"
            f" AND arrived <= ? ORDER BY time, ordinal LIMIT {_PAGE}"
        )
        time, ordinal = start - 1, _ALWAYS
        while page := self._database.rows(sql, (number, time, ordinal, end, _ALWAYS if known_by is None else known_by)):
            yield from (self._reading(point, row) for row in page)
            time, ordinal = page[-1][1], page[-1][-1]

    def latest(self, point: str) -> Reading | None:
        """The reading with the newest instrument time, of whatever quality; `conflict` if it is contradicted."""
        rows = self._database.rows(
            f"SELECT {_COLUMNS}, ordinal FROM reading WHERE point = ? ORDER BY time DESC, ordinal DESC LIMIT 1",
            (self._points.number(point),),
        )
        if not rows:
            return None
        newest, ordinal = self._reading(point, rows[0]), rows[0][-1]
        return replace(newest, quality=CONFLICT) if ordinal else newest

    def span(self, point: str) -> tuple[int, int] | None:
        """Instrument times of a point's first and last reading, or None if it has none."""
        first, last = self._database.row(
            "SELECT min(time), max(time) FROM reading WHERE point = ?", (self._points.number(point),)
        )
        return None if first is None else (first, last)

    def counts(self) -> dict[str, int]:
        """Readings kept of each point, by name. Reads them all: for reports, not for the loop."""
        return dict(
            self._database.rows(
                "SELECT text, n FROM point JOIN (SELECT point, count(*) AS n FROM reading GROUP BY point) ON id = point"
                " ORDER BY text"
            )
        )

    def evidence_sha256(self, points: Collection[str], start: int, end: int, known_by: int | None = None) -> str:
        """SHA-256 in hex over all readings of some points in [start, end), so that evidence can be checked years later.

        The bytes, for good: one line for each reading, the RFC 8785 array [point, time, sent, unit, value, quality] (time in
        microseconds UTC, value as a number in the unit used inside, quality as stored) and a line feed. Points come in the
        order of their UTF-8 bytes, each once; within a point, times ascend; lines of the same time are in the order of their
        bytes, so that the order of arrival doesn't matter.
        """
        digest = hashlib.sha256()
        for point in sorted(set(points), key=str.encode):
            lines = [(reading.time, evidence_line(reading)) for reading in self.rows(point, start, end, known_by)]
            digest.update(b"".join(line for _, line in sorted(lines)))
        return digest.hexdigest()

    def _row(self, reading: Reading) -> tuple:
        point, unit = self._points.keep(reading.point), self._units.keep(reading.unit)
        return (point, reading.time, reading.sent, unit, reading.value, reading.mapping, reading.arrived, reading.quality, 0)

    def _append_one(self, row: tuple) -> str:
        there = self._database.rows("SELECT value FROM reading WHERE point = ? AND time = ?", row[:2])
        if (row[4],) in there:
            return "duplicate"
        self._database.execute(_INSERT, (*row[:-1], len(there)))
        return "conflict" if there else "stored"

    def _reading(self, point: str, row: tuple) -> Reading:
        _, time, sent, unit, value, mapping, arrived, quality, *_ = row
        return Reading(point, time, arrived, sent, self._units.text(unit), value, mapping, quality)


def evidence_line(reading: Reading) -> bytes:
    """The bytes of one reading in an evidence hash; see Readings.evidence_sha256."""
    fields = [reading.point, reading.time, reading.sent, reading.unit, reading.value, reading.quality]
    return rfc8785.dumps(fields) + b"\n"


class _Texts:
    """Texts that come again with every reading, kept once under a small number."""

    def __init__(self, database: Database, table: str) -> None:
        self._database = database
        self._table = table
        self._numbers: dict[str, int] = {}
        self._texts: dict[int, str] = {}
        database.when_rolled_back.append(self._forget)

    def keep(self, text: str) -> int:
        """The number of a text, which gets one if it has none."""
        number = self._numbers.get(text)
        if number is None:
            self._database.execute(f"INSERT OR IGNORE INTO {self._table} (text) VALUES (?)", (text,))
            number = self.number(text)
        return number

    def number(self, text: str) -> int | None:
        """The number of a text, or None; another process may have given it one since we last looked."""
        if text not in self._numbers:
            row = self._database.row(f"SELECT id FROM {self._table} WHERE text = ?", (text,))
            if row is None:
                return None
            self._numbers[text] = row[0]
        return self._numbers[text]

    def text(self, number: int) -> str:
        if number not in self._texts:
            self._texts[number] = self._database.row(f"SELECT text FROM {self._table} WHERE id = ?", (number,))[0]
        return self._texts[number]

    def _forget(self) -> None:
        self._numbers.clear()
        self._texts.clear()
