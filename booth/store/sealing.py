"""Sealing: hot rows of an hour become one chunk, in one short transaction, and only when the chunk gives every one of them back.

Killed at any instruction, an hour is either hot or sealed. Done again, what is sealed stays as it is; a reading that comes late
for a sealed hour stays hot beside its chunk. Any process may seal while the logger writes.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from booth.store.chunk import GOOD, Chunk, Row, hour_of, pack, unpack
from booth.store.database import Database, StoreError
from booth.store.hot import HotRows
from booth.store.leaving import Leaving
from booth.store.sealed import SealedHours
from booth.store.summary import summarise, usable
from booth.store.texts import Texts
from booth.times import HOUR, format_time

DESCRIPTION = "sha256, size, count, first_time, last_time, longest_gap, usable, low, mean, high, first, last"
"""The columns of `sealed_hour` that follow from the chunk."""
_NEXT_CHUNK = "SELECT 1 + max(coalesce((SELECT max(id) FROM chunk), 0), coalesce((SELECT max(chunk) FROM pruned_hour), 0))"


@dataclass(frozen=True)
class Sealed:
    """What was sealed: hours of a point, readings, bytes of their chunks; and the longest time that other writers had to wait."""

    hours: int
    readings: int
    bytes: int
    longest_lock_s: float


class Sealing:
    """Seals hours of the hot table."""

    def __init__(self, database: Database, points: Texts, hot: HotRows, sealed: SealedHours, leaving: Leaving) -> None:
        self._database, self._points = database, points
        self._hot, self._sealed, self._leaving = hot, sealed, leaving

    def seal(self, before_us: int, enough: Callable[[], bool] = lambda: False) -> Sealed:
        """Seal every whole hour that ends at or before a moment and isn't sealed. After each, `enough` may pause, or end it."""
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
                if enough():
                    return Sealed(hours, readings, size, longest)
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
        with self._leaving.allowed(point, rows), self._database.transaction():
            begun = time.perf_counter()
            if self._sealed.hours(point, hour, hour + 1):
                return None
            self._insert(point, chunk, data)
            self._leaving.delete(point, rows)
        return time.perf_counter() - begun

    def _insert(self, point: int, chunk: Chunk, data: bytes) -> None:
        (number,) = self._database.row(_NEXT_CHUNK)
        self._database.execute("INSERT INTO chunk (id, bytes) VALUES (?, ?)", (number, data))
        row = (point, chunk.hour, number, *description(chunk, data))
        places = ", ".join("?" * len(row))
        self._database.execute(f"INSERT INTO sealed_hour (point, hour, chunk, {DESCRIPTION}) VALUES ({places})", row)


def description(chunk: Chunk, data: bytes) -> tuple:
    """What the columns of DESCRIPTION must be."""
    return (hashlib.sha256(data).digest(), len(data), *amounts(chunk.times, chunk.values, chunk.having(GOOD)))


def amounts(times: np.ndarray, values: np.ndarray, good: np.ndarray) -> tuple:
    """What readings in the order of their times amount to: the columns of DESCRIPTION from `count` on."""
    gaps = np.diff(times)
    longest = int(gaps.max()) if len(gaps) else 0
    return (len(times), int(times[0]), int(times[-1]), longest, *summarise(values[usable(times, good)]))
