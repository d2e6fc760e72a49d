"""Deleting old readings that nobody needs, where a site asks for it: whole sealed hours, each with a journal entry that says so.

What hours amounted to stays, in `pruned_hour`. A stretch of one point within a day is one short transaction: journal entry in,
summaries in, chunks out. Killed at any instruction, its readings are there, or deleted and journalled. A broken chunk is never
deleted: nobody could say what it held.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import rfc8785

from booth.store.chunk import GOOD, Chunk, Row, hour_of
from booth.store.database import Database, StoreError
from booth.store.hot import ALWAYS, HotRows
from booth.store.leaving import Leaving
from booth.store.sealed import SealedHours
from booth.store.sealing import amounts
from booth.store.texts import Texts
from booth.times import DAY, HOUR

KEPT = "count, first_time, last_time, longest_gap, usable, low, mean, high, first, last"
"""The columns of `pruned_hour` about what was deleted."""


@dataclass(frozen=True)
class Stretch:
    """Readings of a point with start <= time < end: what may be deleted, or was. `sha256`: see Readings.evidence_sha256, of the
    readings; `summaries_sha256` of what stays of them (summaries_sha256 below). Both empty for what may be deleted."""

    point: str
    start: int
    end: int
    hours: tuple[int, ...]
    count: int
    sha256: str = ""
    summaries_sha256: str = ""


Write = Callable[[Stretch], int]
"""Appends the journal entry about a stretch and returns its number; called inside the transaction that deletes."""


class Pruning:
    """Finds and deletes what is older than a moment and not needed; `needed(point, start, end)` says what is."""

    def __init__(
        self, database: Database, points: Texts, hot: HotRows, sealed: SealedHours, leaving: Leaving, sha256: Callable[..., str]
    ) -> None:
        self._database, self._points, self._hot, self._sealed = database, points, hot, sealed
        self._leaving, self._sha256 = leaving, sha256

    def candidates(self, before_us: int, needed: Callable[[str, int, int], bool]) -> Iterator[Stretch]:
        """What may be deleted; a stretch lies within a day (UTC), and nothing that is kept lies in it."""
        for name, point in self._points.all().items():
            counts = self._counts(point, before_us)
            pruned = {hour for (hour,) in self._database.rows("SELECT hour FROM pruned_hour WHERE point = ?", (point,))}
            run: list[int] = []
            for hour in sorted(counts):
                keep = hour in pruned or needed(name, hour, hour + HOUR)
                if run and (keep or run[0] // DAY != hour // DAY):
                    yield _stretch(name, run, counts)
                    run = []
                run += [] if keep else [hour]
            if run:
                yield _stretch(name, run, counts)

    def prune(
        self, before_us: int, needed: Callable[[str, int, int], bool], write: Write, enough: Callable[[], bool] = lambda: False
    ) -> Iterator[tuple[Stretch, float]]:
        """Delete it, and yield each stretch with the seconds that other writers had to wait. Seal before."""
        if self._database.in_transaction:
            raise StoreError(f"{self._database.path}: deleting commits each stretch by itself; call it outside a transaction")
        for stretch in self.candidates(before_us, needed):
            for part in self._whole(stretch):
                deleted = self._delete(part, write)
                if deleted is not None:
                    yield deleted
            if enough():
                return

    def _counts(self, point: int, before_us: int) -> dict[int, int]:
        """Readings of every whole hour before a moment, by its beginning; hot and sealed ones."""
        rows = self._database.rows(
            f"SELECT hour, sum(n) FROM (SELECT hour, count AS n FROM sealed_hour WHERE point = ? AND hour < ? UNION ALL"
            f" SELECT time / {HOUR} * {HOUR} AS hour, count(*) AS n FROM reading WHERE point = ? AND time < ? GROUP BY 1)"
            " GROUP BY hour",
            (point, hour_of(before_us), point, hour_of(before_us)),
        )
        return dict(rows)

    def _whole(self, stretch: Stretch) -> Iterator[Stretch]:
        """The parts of it that are sealed and whole."""
        point = self._points.number(stretch.point)
        run: list[int] = []
        for hour in stretch.hours:
            if self._sealed.chunk(point, hour) is not None:
                run.append(hour)
            elif run:
                yield _stretch(stretch.point, run, {})
                run = []
        if run:
            yield _stretch(stretch.point, run, {})

    def _delete(self, stretch: Stretch, write: Write) -> tuple[Stretch, float] | None:
        """None where something has changed meanwhile: then it is for the next time."""
        point = self._points.number(stretch.point)
        with self._database.snapshot():
            before = self._state(point, stretch)
            late = self._hot.rows(point, stretch.start, stretch.end)
            summaries = [(hour, *self._amounts(point, hour)) for hour in stretch.hours]
            digest = self._sha256([stretch.point], stretch.start, stretch.end)
        count = sum(row[1] for row in summaries)
        done = Stretch(stretch.point, stretch.start, stretch.end, stretch.hours, count, digest, summaries_sha256(summaries))
        with self._leaving.allowed(point, late), self._database.transaction():
            begun = time.perf_counter()
            if self._state(point, stretch) != before:
                return None
            self._replace(point, done, write(done), summaries, late)
        return done, time.perf_counter() - begun

    def _replace(self, point: int, stretch: Stretch, entry: int, summaries: list[tuple], late: Iterable[Row]) -> None:
        chunks = dict(self._chunks(point, stretch))
        rows = [(point, hour, entry, chunks[hour], *rest) for hour, *rest in summaries]
        places = ", ".join("?" * len(rows[0]))
        self._database.execute_many(f"INSERT INTO pruned_hour (point, hour, entry, chunk, {KEPT}) VALUES ({places})", rows)
        self._database.execute_many("DELETE FROM sealed_hour WHERE point = ? AND hour = ?", [(point, hour) for hour in chunks])
        self._database.execute_many("DELETE FROM chunk WHERE id = ?", [(chunk,) for chunk in chunks.values()])
        self._leaving.delete(point, late)

    def _chunks(self, point: int, stretch: Stretch) -> list[tuple[int, int]]:
        sql = "SELECT hour, chunk FROM sealed_hour WHERE point = ? AND hour >= ? AND hour < ? ORDER BY hour"
        return self._database.rows(sql, (point, stretch.start, stretch.end))

    def _state(self, point: int, stretch: Stretch) -> tuple:
        """Whatever changes when a reading comes, or another process seals or deletes."""
        sql = "SELECT count(*) FROM reading WHERE point = ? AND time >= ? AND time < ?"
        return self._chunks(point, stretch), self._database.row(sql, (point, stretch.start, stretch.end))

    def _amounts(self, point: int, hour: int) -> tuple:
        """Of an hour's chunk and of what came late for it."""
        chunk = self._sealed.chunk(point, hour)
        if chunk is None:
            raise StoreError(f"{self._database.path}: the chunk of {self._points.text(point)} broke while it was read")
        parts = [_columns(chunk), self._hot.columns(point, hour, hour + HOUR, ALWAYS)]
        times, values, good = (np.concatenate(columns) for columns in zip(*parts, strict=True))
        order = np.argsort(times, kind="stable")
        return amounts(times[order], values[order], good[order])


def summaries_sha256(rows: Iterable[tuple]) -> str:
    """SHA-256 in hex over what stays of deleted hours: for each, by time, the RFC 8785 array of its beginning and of the columns
    KEPT, and a line feed."""
    return hashlib.sha256(b"".join(rfc8785.dumps(list(row)) + b"\n" for row in rows)).hexdigest()


def _columns(chunk: Chunk) -> tuple[np.ndarray, ...]:
    return chunk.times, chunk.values, chunk.having(GOOD)


def _stretch(point: str, hours: list[int], counts: dict[int, int]) -> Stretch:
    return Stretch(point, hours[0], hours[-1] + HOUR, tuple(hours), sum(counts.get(hour, 0) for hour in hours))
