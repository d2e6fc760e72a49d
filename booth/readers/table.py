"""How a CSV table keeps its readings: which column is what, and how times and numbers are written."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from booth.readers.json_text import Number
from booth.readers.lines import ReplayError
from booth.readers.moments import FORMATS, local_moment, moment
from booth.readers.points import PointMap
from booth.readers.refused import Refused, quoted

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)


@dataclass(frozen=True)
class Column:
    """A column of a wide table: its point, and its unit where it isn't the point's configured one."""

    point: str
    unit: str | None = None


@dataclass(frozen=True)
class LongColumns:
    """The columns of a long table, a reading a row. `points` translates names in the file; others are point names as they are."""

    point: str = "point"
    value: str = "value"
    unit: str | None = "unit"
    points: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ReplayMap:
    """How to read a table with a header line.

    `columns`: header -> Column (wide, an empty cell is no reading), or LongColumns. `time`: the column of the time, or several
    (date, clock) that are joined by a space. `time_format`: rfc3339, unix_s, unix_ms, or a strptime pattern; a pattern without %z
    needs `zone`, an IANA name, and `fold` 0 or 1 if the hour that comes twice in autumn is to be read as the first or second.
    `arrived`: the column of the arrival, in the same format.
    """

    columns: Mapping[str, Column] | LongColumns
    time: str | tuple[str, ...] = "time"
    time_format: str = "rfc3339"
    zone: str | None = None
    fold: int | None = None
    arrived: str | None = None
    delimiter: str = ","
    decimal_comma: bool = False
    skip_rows: int = 0
    encoding: str = "utf-8"

    def time_columns(self) -> tuple[str, ...]:
        return (self.time,) if isinstance(self.time, str) else tuple(self.time)

    def used(self) -> set[str]:
        """The columns that the map speaks of."""
        columns = self.columns
        values = {columns.point, columns.value, columns.unit} if isinstance(columns, LongColumns) else set(columns)
        return (values | set(self.time_columns()) | {self.arrived}) - {None}

    def cells(self, line: str) -> list[str]:
        """Raises Refused bad_row."""
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=self.delimiter, strict=True))]
        except (csv.Error, StopIteration) as problem:
            raise Refused("bad_row", f"{quoted(line)} is no row of a table ({problem}); expected balanced quotes") from None

    def number(self, cell: str) -> str:
        """The cell as a Number with a decimal point; as it is where it is none, to be refused."""
        if self.decimal_comma:  # a point then separates thousands, and 1.234 is not guessed at
            cell = cell.replace(",", ".") if "." not in cell else f"{cell},"
        return Number(cell) if _NUMBER.fullmatch(cell) else cell


@dataclass(frozen=True)
class Table:
    """A ReplayMap that was checked against the configuration and against the header of one file."""

    map: ReplayMap
    header: list[str]
    zone: ZoneInfo | None

    def row(self, line: str) -> dict[str, str]:
        """Header -> cell. Raises Refused bad_row."""
        cells = self.map.cells(line)
        if len(cells) != len(self.header):
            raise Refused("bad_row", f"{len(cells)} cells; expected {len(self.header)} as in the header: {quoted(line)}")
        return dict(zip(self.header, cells, strict=True))

    def time(self, row: Mapping[str, str]) -> tuple[int, str]:
        """The reading's time, and how it was written. Raises Refused bad_time."""
        text = " ".join(row[name] for name in self.map.time_columns())
        return self._moment(text), text

    def arrival(self, row: Mapping[str, str]) -> int | None:
        return self._moment(row[self.map.arrived]) if self.map.arrived else None

    def _moment(self, text: str) -> int:
        time_format = self.map.time_format
        if time_format == "rfc3339":
            return moment(text, time_format)
        if time_format in FORMATS:
            return moment(self.map.number(text), time_format)
        return local_moment(text, time_format, self.zone, self.map.fold)

    def values(self, row: Mapping[str, str]) -> Iterator[tuple[str, str | None, str]]:
        """(point, unit, cell) of each reading in a row. An empty cell of a wide table is no reading."""
        columns = self.map.columns
        if isinstance(columns, LongColumns):
            unit = row[columns.unit] if columns.unit else None
            yield columns.points.get(row[columns.point], row[columns.point]), unit or None, row[columns.value]
            return
        for name, column in columns.items():
            if row[name]:
                yield column.point, column.unit, row[name]


def checked_table(wanted: ReplayMap, header_line: str, shop: PointMap) -> Table:
    """Raises ReplayError, without the file's name: what the map wants and the header or the configuration doesn't have."""
    if len(wanted.delimiter) != 1:
        raise ReplayError(f"delimiter {wanted.delimiter!r}; expected one character, for example ';'")
    zone = _zone(wanted)
    try:
        header = wanted.cells(header_line)
    except Refused as why:
        raise ReplayError(why.sentence) from None
    twice = sorted({name for name in header if header.count(name) > 1})
    if twice:
        raise ReplayError(f"column {twice[0]!r} comes twice; expected a name of its own for each column")
    missing = sorted(wanted.used() - set(header))
    if missing:
        raise ReplayError(f"no column {_list(missing)}; the header has {_list(header)}: correct the map, delimiter or skip_rows")
    if not isinstance(wanted.columns, LongColumns):
        unknown = sorted({column.point for column in wanted.columns.values()} - set(shop.points))
        if unknown:
            raise ReplayError(f"no point {_list(unknown)}; expected of {_list(sorted(shop.points))}")
    return Table(wanted, header, zone)


def _zone(wanted: ReplayMap) -> ZoneInfo | None:
    pattern = wanted.time_format
    if pattern in FORMATS:
        return None
    try:
        datetime.strptime("", pattern)
    except (ValueError, re.error) as problem:
        if "does not match" not in str(problem):
            raise ReplayError(
                f"time format {pattern!r} ({problem}); expected {_list(FORMATS)} or a pattern such as '%d.%m.%Y %H:%M:%S'"
            ) from None
    if wanted.zone is None:
        if "%z" in pattern:
            return None
        raise ReplayError(f"time format {pattern!r} has no offset; state the zone of its times, for example 'America/Chicago'")
    try:
        return ZoneInfo(wanted.zone)
    except (KeyError, ValueError, OSError):
        raise ReplayError(f"zone {wanted.zone!r}; expected an IANA name, for example 'America/Chicago'") from None


def _list(names) -> str:
    return ", ".join(map(repr, names))
