"""The text of the weather files that pvlib carries, read by their manuals: the simulator's air is held against it."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

FOLDER = Path(find_spec("pvlib").origin).parent / "data"


class Line(NamedTuple):
    """One hour, 1 to 24, in the file's own units but for tenths."""

    date: str
    hour: int
    dry_bulb_c: float
    dew_point_c: float
    humidity_percent: float
    pressure_hpa: float
    dry_bulb_source: str


def lines_of(file: str) -> Iterator[Line]:
    path = FOLDER / file
    return _tmy2(path) if path.suffix == ".tm2" else _tmy3(path)


def _tmy3(path: Path) -> Iterator[Line]:
    names = ("Dry-bulb (C)", "Dew-point (C)", "RHum (%)", "Pressure (mbar)")
    with path.open(encoding="utf-8") as file:
        next(file)  # the station's name and place
        for row in csv.DictReader(file):
            month, day, _ = row["Date (MM/DD/YYYY)"].split("/")
            values = (float(row[name]) for name in names)
            yield Line(f"{month}-{day}", int(row["Time (HH:MM)"][:2]), *values, row["Dry-bulb source"])


def _tmy2(path: Path) -> Iterator[Line]:
    """Fixed columns, counted from one (TMY2 user's manual, table 3-2; the positions are from memory)."""
    for text in path.read_text(encoding="ascii").splitlines()[1:]:
        at = f" {text}"
        values = (int(at[68:72]) / 10, int(at[74:78]) / 10, float(at[80:83]), float(at[85:89]))
        yield Line(f"{at[4:6]}-{at[6:8]}", int(at[8:10]), *values, at[72])
