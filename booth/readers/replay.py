"""Files -> the same outcomes as over MQTT: readings out of CSV tables, events out of JSON lines.

CSV is read with the standard library, a line at a time. A data-frame library would be faster, but it decides for a whole column
what a bad cell means; here each bad cell is set aside with its file and line, and the rest is kept. A line is a row: quoted line
breaks are refused, so that a stray quote costs one row instead of the rest of the file.

A reading's arrival is its own time, unless a column gives it: evidence "as known by" a moment then works on replayed files too.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from booth.readers.events import event_in
from booth.readers.json_text import parse_json
from booth.readers.lines import Line, ReplayError, lines_of
from booth.readers.measure import measure
from booth.readers.moments import not_in_the_future
from booth.readers.points import PointMap
from booth.readers.received import EventIn, QuarantinedIn, ReadingIn
from booth.readers.refused import Refused, quoted
from booth.readers.table import ReplayMap, Table, checked_table


def read_table(
    path: Path, wanted: ReplayMap, shop: PointMap, now: int, reader: str = "replay"
) -> Iterator[ReadingIn | QuarantinedIn]:
    """The readings of a CSV file in its order; what can't be used is quarantined as arrived `now`, with file:line.

    A column that the map doesn't name is reported once, at the header. Raises ReplayError (file, what was expected, what to
    write) where the file can't be read as described at all.
    """
    lines = lines_of(path, wanted.encoding)
    header = next((line for line in lines if line.number > wanted.skip_rows), None)
    if header is None:
        raise ReplayError(f"{path}: no header after {wanted.skip_rows} rows; expected a line with the names of the columns")
    try:
        table = checked_table(wanted, header.text, shop)
    except ReplayError as problem:
        raise ReplayError(f"{path}:{header.number}: {problem}") from None
    for name in table.header:
        if name not in wanted.used():
            why = Refused("unknown_point", f"column {quoted(name)} is not read; map it to a point to read it")
            yield header.quarantined(why, now, reader)
    for line in lines:
        if not line.blank:
            yield from _row(line, table, shop, now, reader)


def _row(line: Line, table: Table, shop: PointMap, now: int, reader: str) -> Iterator[ReadingIn | QuarantinedIn]:
    try:
        row = table.row(line.checked())
        time, arrived = _times(table, row, shop, now)
    except Refused as why:
        yield line.quarantined(why, now, reader)
        return
    for point, unit, cell in table.values(row):
        try:
            spec = shop.spec(point)
            if not cell:
                raise Refused("no_value", f"{point}: the cell is empty; expected a value")
            value = cell if spec.words is not None else table.map.number(cell)
            yield measure(spec, value, unit, time, arrived)
        except Refused as why:
            yield line.quarantined(why, now, reader)


def _times(table: Table, row: dict[str, str], shop: PointMap, now: int) -> tuple[int, int]:
    """(time, arrived) of a row, neither in the future."""
    time, text = table.time(row)
    arrived = table.arrival(row)
    if arrived is None:
        arrived = time
        not_in_the_future(time, now, shop.future_tolerance_us, text)
    else:
        not_in_the_future(arrived, now, shop.future_tolerance_us, row[table.map.arrived])
        not_in_the_future(time, arrived, shop.future_tolerance_us, text)
    return time, arrived


def read_events(path: Path, shop: PointMap, now: int, reader: str = "replay") -> Iterator[EventIn | QuarantinedIn]:
    """The events of a JSON-lines file in its order, each an event as over MQTT with its booth under `booth`.

    Arrival is the event's own time. Decisions (concession, release, correction) are taken: whoever may write the store gave the
    file. What can't be used is quarantined as arrived `now`, with file:line. Raises ReplayError where there is no such file.
    """
    for line in lines_of(path):
        if line.blank:
            continue
        try:
            yield _event(line, shop, now)
        except Refused as why:
            yield line.quarantined(why, now, reader)


def _event(line: Line, shop: PointMap, now: int) -> EventIn:
    document = parse_json(line.checked().encode(), keep_numbers=False)
    booth = document.get("booth") if isinstance(document, dict) else None
    if not isinstance(booth, str) or booth not in shop.booths:
        expected = ", ".join(sorted(shop.booths))
        raise Refused("bad_event", f"{quoted(booth)} came; expected `booth` of the event to be one of {expected}")
    event = event_in(document, booth, now, shop, line.origin, decisions=True)
    return EventIn(booth, event.event, event.time, event.time, line.origin)
