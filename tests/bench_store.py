"""Figures of the readings store: bytes on disk, evidence out of a year, a year at a glance, how long sealing holds others up.

The stream is made up: one reading a second and point, taken up to 4 ms early or late, arriving 1.5 ms and more after that (about
10 ms on average), a slow walk with an instrument's noise, sent to a tenth. Instruments stamp to the millisecond as in the
contract's examples; one figure has them stamp to the microsecond, where 13 bits of every time are chance and can't be packed.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
from bench import Figure, seconds

from booth.store import Reading, Store
from booth.store.sealing import Sealed
from booth.times import HOUR, SECOND

BEGIN = 1_752_408_000_000_000  # 2025-07-13T12:00:00Z
POINTS = tuple(f"north/point-{number}" for number in range(10))
YEAR = 365 * 24
ASKED = 300 * 24  # the hour of the year that evidence is asked for
JOB = 3 * HOUR
MAX_AGE = 15 * SECOND


def stream(point: str, hour: int, hours: int, stamp_us: int = 1000, seed: int = 0) -> list[Reading]:
    """Readings of a point from an hour of the year on."""
    chance = np.random.default_rng((hour, seed, POINTS.index(point)))
    count = hours * 3600
    times = BEGIN + hour * HOUR + np.arange(count) * SECOND + 5000 + chance.integers(-4000, 4001, count)
    times = times // stamp_us * stamp_us
    arrived = times + 1500 + chance.exponential(8000, count).astype(np.int64)
    values = np.round(220 + np.cumsum(chance.normal(0, 0.2, count)) + chance.normal(0, 0.8, count)).astype(int)
    rows = zip(times.tolist(), arrived.tolist(), values.tolist(), strict=True)
    return [Reading(point, time, came, f"{value / 10:.1f}", "degC", value / 10, 1) for time, came, value in rows]


def figures() -> Iterator[Figure]:
    """All of them; about a minute."""
    yield from bytes_per_reading()
    yield from evidence_out_of_a_year()


def bytes_per_reading() -> Iterator[Figure]:
    """What the file grows by for each reading of 10 points over 12 hours, before and after sealing."""
    for stamp_us, stamped in ((1000, "stamped to 1 ms"), (1, "stamped to 1 µs")):
        with tempfile.TemporaryDirectory() as folder, Store.open(folder, writer=True) as store:
            empty, count = store.used_bytes(), 0
            for point in POINTS:
                readings = stream(point, 0, 12, stamp_us)
                count += len(readings)
                store.readings.append(readings)
            rows = (store.used_bytes() - empty) / count
            sealed = store.readings.seal(BEGIN + YEAR * HOUR)
            each = (store.used_bytes() - empty) / count
            judged = stamp_us == 1000
            goal, reached = ("≤ 4 B", each <= 4) if judged else ("printed", None)
            yield Figure(f"bytes per sealed reading, {stamped}", each, "B", 4.0, each / 4, goal, reached)
            yield Figure(f"the same as rows, {stamped}", rows, "B", None, None, "printed", None)
            if judged:
                yield from _held_up(sealed)


def _held_up(sealed: Sealed) -> Iterator[Figure]:
    longest = sealed.longest_lock_s * 1000
    yield Figure("sealing, longest hold of the write lock", longest, "ms", 100.0, longest / 100, "≤ 100 ms", longest <= 100)


def evidence_out_of_a_year() -> Iterator[Figure]:
    """Three hours of 10 points, out of a store of a year and one of a month, both of full size; then a year at a glance.

    The hours asked for and those around them went through append and seal. Every other hour of the year is the bytes of one such
    chunk once more, put there with its row by SQL, since packing 315 million readings takes half an hour; they are never opened.
    """
    with tempfile.TemporaryDirectory() as folder:
        year = _store(Path(folder) / "year", range(YEAR))
        month = _store(Path(folder) / "month", range(ASKED - 15 * 24, ASKED - 15 * 24 + YEAR // 12))
        with Store.open(year) as large, Store.open(month) as small:
            name = f"evidence of a 3 h job, 10 points, of {large.used_bytes() / 1e9:.2f} GB"
            slow, fast = (seconds(lambda one=one: _evidence(one)) * 1000 for one in (large, small))
            yield Figure(name, slow, "ms", 150.0, slow / 150, "≤ 150 ms", slow <= 150)
            ratio = slow / fast
            yield Figure("… against a store a twelfth the size", slow, "ms", fast, ratio, "≤ 1.3 × the small one", ratio <= 1.3)
            glance = seconds(lambda: large.readings.hourly(POINTS[0], BEGIN, BEGIN + YEAR * HOUR)) * 1000
            assert len(large.readings.hourly(POINTS[0], BEGIN, BEGIN + YEAR * HOUR)) == YEAR
            yield Figure("a year's hourly summary of a point", glance, "ms", 20.0, glance / 20, "≤ 20 ms", glance <= 20)
        with Store.open(year, writer=True) as store:
            store.readings.append(stream(POINTS[0], YEAR, 48))
            glance = seconds(lambda: store.readings.hourly(POINTS[0], BEGIN, BEGIN + (YEAR + 48) * HOUR), 5) * 1000
            yield Figure("the same with two days hot", glance, "ms", 20.0, glance / 20, "printed", None)


def _evidence(store: Store) -> None:
    start = BEGIN + ASKED * HOUR + HOUR // 3
    for point in POINTS:
        assert 10_799 <= len(store.readings.evidence(point, start, start + JOB, MAX_AGE)) <= 10_802


def _store(folder: Path, hours: range) -> Path:
    """A store of 10 points with these hours of the year, six of them really sealed."""
    real = range(ASKED - 1, ASKED + 5)
    with Store.open(folder, writer=True) as store:
        for point in POINTS:
            store.readings.append(stream(point, real.start, len(real)))
        store.readings.seal(BEGIN + YEAR * HOUR)
    with closing(sqlite3.connect(folder / "booth.sqlite")) as connection, connection:
        connection.execute("PRAGMA synchronous = OFF")
        names = [row[1] for row in connection.execute("PRAGMA table_info(sealed_hour)")]
        shifted = {"hour": "?", "chunk": "?", "first_time": "first_time + ?", "last_time": "last_time + ?"}
        sql = f"INSERT INTO sealed_hour SELECT {', '.join(shifted.get(name, name) for name in names)} FROM sealed_hour"
        sql += " WHERE point = ? AND hour = ?"
        model = BEGIN + real.start * HOUR
        for hour in (hour for hour in hours if hour not in real):
            for point, chunk in connection.execute("SELECT point, chunk FROM sealed_hour WHERE hour = ?", (model,)).fetchall():
                copied = connection.execute("INSERT INTO chunk (bytes) SELECT bytes FROM chunk WHERE id = ?", (chunk,)).lastrowid
                moved = BEGIN + hour * HOUR - model
                connection.execute(sql, (model + moved, copied, moved, moved, point, model))
    return folder


if __name__ == "__main__":
    for figure in figures():
        print(figure)
