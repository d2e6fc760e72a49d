"""Hot readings: rows of the table `reading`, as they came, until their hour is sealed."""

from __future__ import annotations

import numpy as np

from booth.store.chunk import GOOD, Row
from booth.store.database import Database
from booth.store.texts import Texts

ALWAYS = 2**63 - 1
_FIELDS = [("time", np.int64), ("value", np.float64), ("good", np.bool_)]


class HotRows:
    """What is in the table; `point` is a number of the table `point` everywhere, None for a point that isn't in it."""

    def __init__(self, database: Database, units: Texts) -> None:
        self._database = database
        self._units = units

    def columns(self, point: int | None, start: int, end: int, known_by: int) -> tuple[np.ndarray, ...]:
        """Times, values, and which are good, of the readings with start <= time < end that had arrived by then, by time."""
        rows = self._database.rows(
            "SELECT time, value, quality = ? FROM reading"
            " WHERE point = ? AND time >= ? AND time < ? AND arrived <= ? ORDER BY time",
            (GOOD, point, start, end, known_by),
        )
        table = np.array(rows, dtype=_FIELDS)
        return table["time"], table["value"], table["good"]

    def rows(self, point: int | None, start: int, end: int) -> list[Row]:
        """Readings with start <= time < end, by time and ordinal."""
        found = self._database.rows(
            "SELECT time, ordinal, sent, unit, value, mapping, arrived, quality FROM reading"
            " WHERE point = ? AND time >= ? AND time < ? ORDER BY time, ordinal",
            (point, start, end),
        )
        return [Row(time, ordinal, sent, self._units.text(unit), *rest) for time, ordinal, sent, unit, *rest in found]

    def values(self, point: int, time: int) -> list[float]:
        """Every value of a point at one time."""
        rows = self._database.rows("SELECT value FROM reading WHERE point = ? AND time = ?", (point, time))
        return [value for (value,) in rows]

    def times(self, point: int | None) -> np.ndarray:
        """All times of a point, int64, ascending."""
        rows = self._database.rows("SELECT time FROM reading WHERE point = ? ORDER BY time", (point,))
        return np.array(rows, np.int64).reshape(-1)

    def first_time(self, point: int | None, start: int = -ALWAYS, end: int = ALWAYS) -> int | None:
        """The first time in [start, end), or None."""
        sql = "SELECT min(time) FROM reading WHERE point = ? AND time >= ? AND time < ?"
        return self._database.row(sql, (point, start, end))[0]

    def last_time(self, point: int | None) -> int | None:
        return self._database.row("SELECT max(time) FROM reading WHERE point = ?", (point,))[0]

    def counts(self) -> dict[int, int]:
        """Readings of each point, by its number. Reads them all."""
        return dict(self._database.rows("SELECT point, count(*) FROM reading GROUP BY point"))

    def last_times(self) -> dict[int, int]:
        """The newest time of each point that has any, by its number: one look into the index for each."""
        found = self._database.rows("SELECT id, (SELECT max(time) FROM reading WHERE point = point.id) FROM point")
        return {number: time for number, time in found if time is not None}

    def counts_since(self, start: int) -> dict[int, int]:
        """Readings of each point with time >= start, by its number."""
        sql = "SELECT id, (SELECT count(*) FROM reading WHERE point = point.id AND time >= ?) FROM point"
        return dict(self._database.rows(sql, (start,)))
