"""Readings as sent: append-only, each kept once, contradictions kept side by side. Hot or sealed, the answers are the same."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import rfc8785

from booth.judge.series import Series
from booth.store.checking import ReadingsVerification, verify
from booth.store.chunk import Row, hour_of
from booth.store.database import Database, StoreError
from booth.store.history import History, Hourly
from booth.store.hot import ALWAYS, HotRows
from booth.store.leaving import Leaving
from booth.store.pruning import Pruning
from booth.store.reading import Held, Reading, Stored
from booth.store.salvage import by_hours, can_salvage
from booth.store.sealed import Lost, SealedHours
from booth.store.sealing import Sealed, Sealing
from booth.store.summary import usable
from booth.store.texts import Texts
from booth.times import HOUR

CONFLICT = "conflict"
KEEP_HOT_US = 48 * HOUR
"""Usual for `Readings.seal`: what may still come late, and is asked for most often, stays in rows."""
_COLUMNS = "point, time, sent, unit, value, mapping, arrived, quality"
_INTO = f"INSERT OR IGNORE INTO reading ({_COLUMNS}, ordinal)"
_INSERT = f"{_INTO} VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"


class Readings:
    """All readings of the store. Identity is (point, time); only the logger appends."""

    def __init__(self, database: Database, writable: bool) -> None:
        self._database = database
        self._writable = writable
        self._points = Texts(database, "point")
        self._units = Texts(database, "unit")
        self._hot = HotRows(database, self._units)
        self._sealed = SealedHours(database, self._points)
        leaving = Leaving(database, self._units)
        self._sealing = Sealing(database, self._points, self._hot, self._sealed, leaving)
        self.pruning = Pruning(database, self._points, self._hot, self._sealed, leaving, self.evidence_sha256)
        self._history = History(database, self._hot, self._sealed)

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
            if self._all_new(rows):
                return Stored(len(rows), 0, 0)
            outcome = [self._append_one(row) for row in rows]
            return Stored(*(outcome.count(word) for word in ("stored", "duplicate", "conflict")))

    def evidence(self, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        """What the judge may use of a point in [start, end): good readings, and the last good one before `start` if it isn't
        older than `max_age_us` then. A time with contradicting values is left out. `known_by` limits all this to what had
        arrived by then.
        """
        number, known = self._points.number(point), ALWAYS if known_by is None else known_by
        first = start - max_age_us
        with self._database.snapshot():
            hot = self._hot_columns(number, point, first, end, known)
            chunks = [chunk.columns(first, end, known) for chunk in self._sealed.chunks(number, first, end)]
        times, values, good = (np.concatenate(parts) for parts in zip(*chunks, hot, strict=True))
        if chunks and len(hot[0]):  # late ones beside a chunk
            order = np.argsort(times, kind="stable")
            times, values, good = times[order], values[order], good[order]
        found = usable(times, good)
        times, values = times[found], values[found]
        first = max(0, int(np.searchsorted(times, start)) - 1)
        return Series(times[first:].copy(), values[first:].copy(), max_age_us)

    def rows(self, point: str, start: int, end: int, known_by: int | None = None) -> Iterator[Reading]:
        """Readings of a point in [start, end) as stored, of any quality, by time; contradicting ones one after the other."""
        number, known = self._points.number(point), ALWAYS if known_by is None else known_by
        while start < end:
            try:
                with self._database.snapshot():  # an hour at once, and none open while the caller works
                    hour = self._next_hour(number, start, end)
                    if hour is None:
                        return
                    start, past = max(start, hour), min(end, hour + HOUR)
                    page = self._rows(number, start, past)
            except StoreError as problem:
                if not can_salvage(problem, start, end):
                    raise
                self._lose(point, hour_of(start), str(problem))
                page, past = [], hour_of(start) + HOUR
            yield from (self._reading(point, row) for row in page if row.arrived <= known)
            start = past

    def latest(self, point: str) -> Reading | None:
        """The reading with the newest instrument time, of whatever quality; `conflict` if it is contradicted."""
        number = self._points.number(point)
        with self._database.snapshot():
            hot = self._hot.last_time(number)
            chunk = self._sealed.newest(number, -ALWAYS if hot is None else hot)
            times = [time for time in (hot, int(chunk.times[-1]) if chunk else None) if time is not None]
            rows = self._rows(number, max(times), max(times) + 1) if times else []
        if not rows:
            return None
        newest = self._reading(point, rows[-1])
        return replace(newest, quality=CONFLICT) if rows[-1].ordinal else newest

    def newest_times(self) -> dict[str, int]:
        """The newest instrument time of every point that has hot readings, by name; cheap enough to poll for what arrived."""
        with self._database.snapshot():
            times = self._hot.last_times()
            return {name: times[number] for name, number in self._points.all().items() if number in times}

    def counts_since(self, start: int) -> dict[str, int]:
        """How many hot readings of each point have a time >= start, by name: tells what came late, behind the newest."""
        with self._database.snapshot():
            counts = self._hot.counts_since(start)
            return {name: counts[number] for name, number in self._points.all().items()}

    def span(self, point: str) -> tuple[int, int] | None:
        """Instrument times of a point's first and last reading, or None if it has none."""
        number = self._points.number(point)
        with self._database.snapshot():
            hot = (self._hot.first_time(number), self._hot.last_time(number))
            spans = [span for span in (hot, self._sealed.span(number)) if span and span[0] is not None]
        return (min(first for first, _ in spans), max(last for _, last in spans)) if spans else None

    def counts(self) -> dict[str, int]:
        """Readings kept of each point, by name. Reads all hot ones: for reports, not for the loop."""
        return {held.point: held.hot + held.sealed for held in self.held()}

    def held(self) -> list[Held]:
        """What is kept of each point that has readings, by name. Reads all hot ones."""
        with self._database.snapshot():
            hot, sealed = self._hot.counts(), self._sealed.counts()
            names = self._points.all()
        all_ = (Held(name, hot.get(number, 0), *sealed.get(number, (0, 0))) for name, number in names.items())
        return [held for held in all_ if held.hot or held.sealed]

    def hourly(self, point: str, start: int, end: int) -> Hourly:
        """Count, least, mean, greatest, first and last usable value of every hour that begins in [start, end) and has any."""
        with self._database.snapshot():
            return self._history.hourly(self._points.number(point), start, end)

    def waiting(self, point: str, time: int) -> tuple[int, int | None]:
        """How many readings of a point are newer than a time, and when the oldest of them was taken.

        Where the time lies in a sealed hour, the whole hour is counted: only opening it would tell how much of it is newer.
        """
        with self._database.snapshot():
            return self._history.waiting(self._points.number(point), time)

    def counts_by_hour(self, point: str, start: int, last: int) -> dict[int, int]:
        """How many readings a point has from `start` (a full hour) up to and with `last`, by hours since 1970. A sealed hour that
        reaches beyond `last` isn't counted."""
        return self._history.counts_by_hour(self._points.number(point), start, last)

    def points(self) -> list[str]:
        """Every point that ever had a reading, configured today or not."""
        return list(self._points.all())

    def gaps(self, point: str, longer_than_us: int) -> list[tuple[int, int]]:
        """Stretches longer than this between two readings of any quality: (time of the one before, time of the one after)."""
        with self._database.snapshot():
            return self._history.gaps(self._points.number(point), longer_than_us)

    def days(self) -> int:
        """The number of days (UTC) of which there is at least one reading."""
        with self._database.snapshot():
            return self._history.days(self._points.all().values())

    def seal(self, before_us: int, keep_hot_us: int = 0, enough: Callable[[], bool] = lambda: False) -> Sealed:
        """Seal every whole hour that ended at least `keep_hot_us` before `before_us`, one point's hour in one short transaction.
        After each, `enough` is asked: it may pause, and true ends it.

        Any process may; the logger goes on writing. Raises StoreError inside a transaction, and for a chunk that doesn't give
        back what was sent.
        """
        return self._sealing.seal(before_us - keep_hot_us, enough)

    def verify(self) -> ReadingsVerification:
        """Check every chunk's checksum, contents and summary. Damage is reported, not raised."""
        return verify(self._database, self._sealed, self._points)

    @property
    def lost(self) -> list[Lost]:
        """Hours that were asked for since the store was opened and can't be read; `verify` looks for all of them."""
        return list(self._sealed.lost.values())

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

    def _hot_columns(self, number: int | None, point: str, start: int, end: int, known: int) -> tuple[np.ndarray, ...]:
        parts = by_hours(
            lambda begin, past: self._hot.columns(number, begin, past, known), start, end, partial(self._lose, point)
        )
        nothing = self._hot.columns(None, 0, 0, 0)
        return parts[0] if len(parts) == 1 else tuple(np.concatenate(each) for each in zip(nothing, *parts, strict=True))

    def _lose(self, point: str, hour: int, problem: str) -> None:
        self._sealed.lost[point, hour] = Lost(point, hour, 0, problem)

    def _row(self, reading: Reading) -> tuple:
        point, unit = self._points.keep(reading.point), self._units.keep(reading.unit)
        return (point, reading.time, reading.sent, unit, reading.value, reading.mapping, reading.arrived, reading.quality, 0)

    def _all_new(self, rows: list[tuple]) -> bool:
        """Keep a batch at one go, or none of it: where something was there already, or may lie in a chunk."""
        newest = self._sealed.newest_hour()
        if newest is not None and any(row[1] < newest + HOUR for row in rows):
            return False
        self._database.execute("SAVEPOINT batch")
        new = self._database.insert_many(_INTO, rows)
        if new < len(rows):
            self._database.execute("ROLLBACK TO batch")
        self._database.execute("RELEASE batch")
        return new == len(rows)

    def _append_one(self, row: tuple) -> str:
        there = self._hot.values(*row[:2]) + self._sealed.values(*row[:2])
        if row[4] in there:
            return "duplicate"
        self._database.execute(_INSERT, (*row[:-1], len(there)))
        return "conflict" if there else "stored"

    def _next_hour(self, number: int | None, start: int, end: int) -> int | None:
        """The first hour with readings that reaches into [start, end), hot or sealed."""
        hot, sealed = self._hot.first_time(number, start, end), self._sealed.next_hour(number, start, end)
        hours = [hour for hour in (None if hot is None else hour_of(hot), sealed) if hour is not None]
        return min(hours, default=None)

    def _rows(self, number: int | None, start: int, end: int) -> list[Row]:
        """Rows with start <= time < end, hot and sealed, by time and ordinal."""
        sealed = [row for chunk in self._sealed.chunks(number, start, end) for row in chunk.rows(start, end)]
        hot = self._hot.rows(number, start, end)
        return sorted(sealed + hot, key=lambda row: row[:2]) if sealed and hot else sealed + hot

    def _reading(self, point: str, row: Row) -> Reading:
        return Reading(point, row.time, row.arrived, row.sent, row.unit, row.value, row.mapping, row.quality)


def evidence_line(reading: Reading) -> bytes:
    """The bytes of one reading in an evidence hash; see Readings.evidence_sha256."""
    fields = [reading.point, reading.time, reading.sent, reading.unit, reading.value, reading.quality]
    return rfc8785.dumps(fields) + b"\n"
