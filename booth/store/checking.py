"""Checking what is sealed: every chunk against its checksum, every column beside it against the chunk."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass

from booth.store import schema
from booth.store.chunk import ChunkError
from booth.store.database import Database, StoreError
from booth.store.pruning import KEPT, summaries_sha256
from booth.store.sealed import Lost, SealedHours, opened
from booth.store.sealing import DESCRIPTION, description
from booth.store.texts import Texts

_TABLES = ("reading", "chunk", "sealed_hour", "pruned_hour", "point", "unit")
_PAGE = 500


@dataclass(frozen=True)
class ReadingsVerification:
    """The outcome: how many hours and readings are sealed and whole, what is lost, and sentences about all that is wrong."""

    ok: bool
    hours: int
    readings: int
    lost: tuple[Lost, ...]
    problems: tuple[str, ...]


def verify(database: Database, sealed: SealedHours, points: Texts) -> ReadingsVerification:
    """Check all that is sealed. Damage is reported, not raised."""
    hours = readings = 0
    lost: list[Lost] = []
    problems: list[str] = []
    try:
        for row in _rows(database):
            outcome = _check(row, sealed, points)
            if isinstance(outcome, int):
                hours, readings = hours + 1, readings + outcome
            elif isinstance(outcome, Lost):
                lost.append(outcome)
            else:
                problems.append(outcome)
    except StoreError as problem:
        problems.append(f"The list of sealed hours can't be read to its end: {problem}.")
    problems = [*map(str, lost), *problems, *_pruned_problems(database), *_structure_problems(database)]
    return ReadingsVerification(not problems, hours, readings, tuple(lost), tuple(problems))


def _rows(database: Database) -> Iterator[tuple]:
    """All of sealed_hour: point, hour, chunk, then the columns of DESCRIPTION."""
    columns = f"point, hour, chunk, {DESCRIPTION}"
    sql = f"SELECT {columns} FROM sealed_hour WHERE (point, hour) > (?, ?) ORDER BY point, hour LIMIT {_PAGE}"
    after: tuple = (-(2**63), -(2**63))
    while page := database.rows(sql, after):
        yield from page
        after = page[-1][:2]


def _check(row: tuple, sealed: SealedHours, points: Texts) -> int | Lost | str:
    """The number of readings of a whole hour; or what is lost; or, where the readings are whole, what else is wrong."""
    point, hour, chunk, sha256, size, count, *_ = row
    try:
        name = points.fresh(point)
        if name is None:
            return f"Hour from {hour}: it belongs to point {point!r}, which has no name."
    except StoreError as problem:
        return f"Hour from {hour}: the name of its point {point!r} can't be read: {problem}."
    try:
        data = sealed.bytes_of(chunk)
        found = opened(name, hour, data, sha256)
    except (ChunkError, StoreError) as problem:
        return Lost(name, hour, count, str(problem))
    expected = description(found, data)
    wrong = [column for column, is_, should in zip(DESCRIPTION.split(", "), row[3:], expected, strict=True) if is_ != should]
    if wrong:
        return f"{name}, hour from {hour}: the readings are whole, but what was noted about them isn't: {', '.join(wrong)}."
    return len(found)


def _pruned_problems(database: Database) -> Iterator[str]:
    """Where what stays of deleted hours isn't what the journal noted when they were deleted."""
    try:
        for seq, data in database.rows("SELECT seq, CAST(bytes AS BLOB) FROM journal WHERE kind = 'retention' ORDER BY seq"):
            rows = database.rows(
                f"SELECT point.text, hour, {KEPT} FROM pruned_hour JOIN point ON point.id = point WHERE entry = ? ORDER BY hour",
                (seq,),
            )
            yield from _deletion_problems(seq, data, rows)
    except StoreError as problem:
        yield f"What stays of deleted readings can't be checked: {problem}."


def _deletion_problems(seq: int, data: bytes, rows: list[tuple]) -> Iterator[str]:
    try:
        body = json.loads(data)["body"]
        said = (body["point"], body["count"], body["summaries_sha256"])
    except (ValueError, KeyError, TypeError):
        yield f"Entry {seq}: it doesn't say which readings were deleted."
        return
    names = {row[0] for row in rows}
    try:
        found = (names.pop() if len(names) == 1 else None, sum(row[2] for row in rows), summaries_sha256(row[1:] for row in rows))
    except (ValueError, TypeError):
        found = None
    if found != said:
        yield f"Entry {seq}: the summaries of {said[0]} that stayed aren't those of the readings that it says were deleted."


def _structure_problems(database: Database) -> Iterator[str]:
    """What SQLite finds by itself, and chunks that belong to no hour."""
    try:
        yield from schema.differences(database)
        for table in _TABLES:
            for (sentence,) in database.rows(f"PRAGMA integrity_check({table})"):
                if sentence != "ok":
                    yield f"Table {table}: {sentence}."
        for (chunk,) in database.rows("SELECT id FROM chunk WHERE id NOT IN (SELECT chunk FROM sealed_hour)"):
            yield f"Chunk {chunk}: it belongs to no hour."
        for (chunk,) in database.rows("SELECT chunk FROM sealed_hour GROUP BY chunk HAVING count(*) > 1"):
            yield f"Chunk {chunk}: it belongs to more than one hour."
    except StoreError as problem:
        yield f"The tables of readings can't be checked: {problem}."
