"""Sealed readings: chunks behind the hot rows, each checked by its SHA-256 whenever it is read.

A broken chunk costs its own readings and no others: they are missing, as if they had never been measured, so that the judge can't
find anything met on them. `lost` says which they are.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from booth.store.chunk import Chunk, ChunkError, hour_of, unpack
from booth.store.database import Database, StoreError
from booth.store.texts import Texts
from booth.times import format_time

_ALWAYS = 2**62  # no time is that far from 1970
_HOURS = "SELECT hour FROM sealed_hour WHERE point = ? AND hour >= ? AND hour < ? ORDER BY hour"
_REMEMBERED = 64  # chunks: late readings come in crowds for the same hours


@dataclass(frozen=True)
class Lost:
    """Readings that can't be read any more: how many of which point, in the hour that begins at `hour`, and what is wrong.

    `count` is 0 for hot ones, which nobody has counted.
    """

    point: str
    hour: int
    count: int
    problem: str

    def __str__(self) -> str:
        return f"{self.point}, hour from {_moment(self.hour)}: {self.count or 'unsealed'} readings are lost; {self.problem}."


class SealedHours:
    """What is in the chunks; `point` is a number of the table `point` everywhere, None for a point that isn't in it."""

    def __init__(self, database: Database, points: Texts) -> None:
        self._database = database
        self._points = points
        self._remembered: OrderedDict[tuple[int, int], Chunk] = OrderedDict()
        self.lost: dict[tuple[str, int], Lost] = {}
        database.when_rolled_back.append(self._remembered.clear)

    def newest_hour(self) -> int | None:
        """The newest hour that is sealed for any point."""
        return self._database.row("SELECT max(hour) FROM sealed_hour")[0]

    def hours(self, point: int | None, start: int, end: int) -> list[int]:
        """Sealed hours of a point that reach into [start, end), ascending."""
        return [hour for (hour,) in self._database.rows(_HOURS, (point, hour_of(max(start, -_ALWAYS)), end))]

    def next_hour(self, point: int | None, start: int, end: int) -> int | None:
        """The first of them, or None."""
        found = self._database.row(f"{_HOURS} LIMIT 1", (point, hour_of(max(start, -_ALWAYS)), end))
        return found[0] if found else None

    def chunks(self, point: int | None, start: int, end: int) -> Iterator[Chunk]:
        """The chunks that reach into [start, end) and can be read, ascending."""
        for hour in self.hours(point, start, end):
            found = self.chunk(point, hour)
            if found is not None:
                yield found

    def chunk(self, point: int, hour: int) -> Chunk | None:
        """One chunk, or None where there is none or it is broken; then `lost` has it."""
        row = self._database.row("SELECT chunk, sha256, count FROM sealed_hour WHERE point = ? AND hour = ?", (point, hour))
        if row is None:
            return None
        name, (chunk, sha256, count) = self._points.text(point), row
        try:
            return opened(name, hour, self.bytes_of(chunk), sha256)
        except (ChunkError, StoreError) as problem:
            self.lost[name, hour] = Lost(name, hour, count, str(problem))
            return None

    def bytes_of(self, chunk: int) -> bytes:
        """A chunk's bytes, whatever they are. Raises ChunkError where there are none."""
        row = self._database.row("SELECT CAST(bytes AS BLOB) FROM chunk WHERE id = ?", (chunk,))
        if row is None or row[0] is None:
            raise ChunkError(f"there is no chunk {chunk}")
        return row[0]

    def newest(self, point: int | None, since: int) -> Chunk | None:
        """The newest chunk that can be read, not older than the hour of `since`."""
        hours = self.hours(point, since, _ALWAYS)
        return next((found for hour in reversed(hours) if (found := self.chunk(point, hour)) is not None), None)

    def values(self, point: int, time: int) -> list[float]:
        """Every sealed value of a point at one time."""
        key = (point, hour_of(time))
        found = self._remembered.get(key) or self.chunk(*key)
        if found is None:
            return []
        self._remembered[key] = found
        self._remembered.move_to_end(key)
        if len(self._remembered) > _REMEMBERED:
            self._remembered.popitem(last=False)
        first, past = np.searchsorted(found.times, (time, time + 1))
        return [found.kinds[number].value for number in found.kind[first:past]]

    def span(self, point: int | None) -> tuple[int, int] | None:
        """Times of the first and the last sealed reading, or None."""
        sql = "SELECT {} FROM sealed_hour WHERE point = ? ORDER BY hour {} LIMIT 1"
        first = self._database.row(sql.format("first_time", "ASC"), (point,))
        last = self._database.row(sql.format("last_time", "DESC"), (point,))
        return (first[0], last[0]) if first and last else None

    def counts(self) -> dict[int, tuple[int, int]]:
        """Sealed readings and their bytes, of each point, by its number."""
        found = self._database.rows("SELECT point, sum(count), sum(size) FROM sealed_hour GROUP BY point")
        return {point: (count, size) for point, count, size in found}


def opened(point: str, hour: int, data: bytes, sha256: bytes) -> Chunk:
    """The chunk of a point and hour, unpacked when its checksum holds. Raises ChunkError."""
    digest = hashlib.sha256(data).digest()
    if digest != sha256:
        raise ChunkError(f"its bytes hash to {digest.hex()[:16]}…, but {_hex(sha256)[:16]}… was recorded when it was sealed")
    found = unpack(data)
    if (found.point, found.hour) != (point, hour):
        raise ChunkError(f"its bytes are those of {found.point}, hour from {found.hour}")
    return found


def _moment(us: object) -> str:
    """A damaged hour may be beyond every calendar, or no number at all."""
    try:
        return format_time(us)
    except (OverflowError, TypeError):
        return repr(us)


def _hex(value: object) -> str:
    return value.hex() if isinstance(value, bytes) else repr(value)
