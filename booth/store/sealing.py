"""Sealing: hot rows of an hour become one chunk, in one short transaction, and only when the chunk gives every one of them back.

Killed at any instruction, an hour is either hot or sealed. Done again, what is sealed stays as it is; a reading that comes late
for a sealed hour stays hot beside its chunk. Any process may seal while the logger writes.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from booth.store.chunk import GOOD, Chunk, Row, hour_of, pack, unpack
from booth.store.database import Database, StoreError
from booth.store.hot import HotRows
from booth.store.sealed import SealedHours
from booth.store.summary import summarise, usable
from booth.store.texts import Texts
from booth.times import HOUR, format_time

_MAY_BE_DELETED = "a_reading_is_never_deleted_but_when_sealed"  # the trigger reading_keeps_all asks it for every row
DESCRIPTION = "sha256, size, count, first_time, last_time, longest_gap, usable, low, mean, high, first, last"
"""The columns of `sealed_hour` that follow from the chunk."""


@dataclass(frozen=True)
class Sealed:
    """What was sealed: hours of a point, readings, bytes of their chunks; and the longest time that other writers had to wait."""

    hours: int
    readings: int
    bytes: int
    longest_lock_s: float


class Sealing:
    """Seals hours of the hot table."""

    def __init__(self, database: Database, points: Texts, units: Texts, hot: HotRows, sealed: SealedHours) -> None:
        self._database, self._points, self._units = database, points, units
        self._hot, self._sealed = hot, sealed
        self._leaving: dict[tuple[int, int], tuple] = {}  # rows that the chunk just written holds, by (time, ordinal)
        database.define(_MAY_BE_DELETED, 9, self._may_be_deleted)

    def seal(self, before_us: int) -> Sealed:
        """Seal every whole hour that ends at or before a moment and isn't sealed."""
        if self._database.in_transaction:
            raise StoreError(f"{self._database.path}: sealing commits each hour by itself; call it outside a transaction")
        hours = readings = size = 0
        longest = 0.0
        for name, point in self._points.all().items():
            for hour in self._hours(point, hour_of(before_us)):
                rows = self._hot.rows(point, hour, hour + HOUR)
                data = pack(name, hour, rows)
                held_s = self._replace(point, hour, rows, data)
                if held_s is not None:
                    hours, readings, size, longest = hours + 1, readings + len(rows), size + len(data), max(longest, held_s)
        return Sealed(hours, readings, size, longest)

    def _hours(self, point: int, end: int) -> Iterator[int]:
        """Hours of a point that have hot rows and no chunk."""
        first = self._hot.first_time(point, end=end)
        while first is not None:
            hour = hour_of(first)
            if hour not in self._sealed.hours(point, hour, hour + 1):
                yield hour
            first = self._hot.first_time(point, hour + HOUR, end)

    def _replace(self, point: int, hour: int, rows: list[Row], data: bytes) -> float | None:
        """Rows out, chunk in; how long the write lock was held, None where another process has sealed it meanwhile.

        Raises StoreError when the chunk isn't exactly these rows.
        """
        chunk = unpack(data)
        name = self._points.text(point)
        if (chunk.point, chunk.hour) != (name, hour) or list(chunk.rows(hour, hour + HOUR)) != rows:
            raise StoreError(f"{name}, hour from {format_time(hour)}: its chunk doesn't give back what was sent; it stays hot")
        self._leaving = {(row.time, row.ordinal): self._stored(point, row) for row in rows}
        try:
            with self._database.transaction():
                begun = time.perf_counter()
                if self._sealed.hours(point, hour, hour + 1):
                    return None
                self._insert(point, chunk, data)
                self._database.execute_many(
                    "DELETE FROM reading WHERE point = ? AND time = ? AND ordinal = ?",
                    [(point, row.time, row.ordinal) for row in rows],  # not by the hour: a late one may have come meanwhile
                )
            return time.perf_counter() - begun
        finally:
            self._leaving = {}

    def _insert(self, point: int, chunk: Chunk, data: bytes) -> None:
        (number,) = self._database.row("SELECT coalesce(max(id), 0) + 1 FROM chunk")
        self._database.execute("INSERT INTO chunk (id, bytes) VALUES (?, ?)", (number, data))
        row = (point, chunk.hour, number, *description(chunk, data))
        places = ", ".join("?" * len(row))
        self._database.execute(f"INSERT INTO sealed_hour (point, hour, chunk, {DESCRIPTION}) VALUES ({places})", row)

    def _stored(self, point: int, row: Row) -> tuple:
        """A row as the trigger sees it."""
        unit = self._units.number(row.unit)
        return (point, row.time, row.ordinal, row.sent, unit, row.value, row.mapping, row.arrived, row.quality)

    def _may_be_deleted(self, *row: object) -> bool:
        return self._leaving.get(row[1:3]) == row


def description(chunk: Chunk, data: bytes) -> tuple:
    """What the columns of DESCRIPTION must be."""
    gaps = np.diff(chunk.times)
    bounds = (int(chunk.times[0]), int(chunk.times[-1]), int(gaps.max()) if len(gaps) else 0)
    summary = summarise(chunk.values[usable(chunk.times, chunk.having(GOOD))])
    return (hashlib.sha256(data).digest(), len(data), len(chunk), *bounds, *summary)
