"""The only way out for a row of the table `reading`: its trigger asks a function that only our own connection has.

To any other program the function is unknown, and the statement fails with its name. Here it says yes to exactly the rows, field
by field, that are in a chunk that is being written (sealing.py) or in a journal entry about what is deleted (pruning.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from booth.store.chunk import Row
from booth.store.database import Database
from booth.store.texts import Texts

_FUNCTION = "a_reading_is_never_deleted_but_when_sealed"  # the trigger reading_keeps_all asks it for every row


class Leaving:
    """Rows of one point that may leave the table just now."""

    def __init__(self, database: Database, units: Texts) -> None:
        self._database, self._units = database, units
        self._rows: dict[tuple[int, int], tuple] = {}  # by (time, ordinal), as the trigger sees them
        database.define(_FUNCTION, 9, lambda *row: self._rows.get(row[1:3]) == row)

    @contextmanager
    def allowed(self, point: int, rows: Iterable[Row]) -> Iterator[None]:
        """While the block runs, these may be deleted."""
        self._rows = {(row.time, row.ordinal): self._stored(point, row) for row in rows}
        try:
            yield
        finally:
            self._rows = {}

    def delete(self, point: int, rows: Iterable[Row]) -> None:
        """One by one, not by the hour: a late one may have come meanwhile, and stays."""
        self._database.execute_many(
            "DELETE FROM reading WHERE point = ? AND time = ? AND ordinal = ?",
            [(point, row.time, row.ordinal) for row in rows],
        )

    def _stored(self, point: int, row: Row) -> tuple:
        unit = self._units.number(row.unit)
        return (point, row.time, row.ordinal, row.sent, unit, row.value, row.mapping, row.arrived, row.quality)
