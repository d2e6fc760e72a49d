"""Files of weather stations, cut into measured days: a typical meteorological year in TMY3 (.csv) or TMY2 (.tm2).

Such a year is made of twelve real months of a station, each from another year, with six hours smoothed about each seam. pvlib
reads the files, and carries those of three stations; it comes with the test extras and is imported only here, when asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from simulators.measured_air import HOURS, MeasuredDay

PACKAGED = ("703165TY.csv", "723170TYA.CSV", "12839.tm2")
"""What pvlib carries: an island in the North Pacific, a place inland with four seasons, and one by a warm sea."""

DAYS, PA_PER_HPA = 365, 100.0

AS_RECEIVED, SHORT_GAP, ESTIMATED = "A", "B", "E"
"""Source flags (user's manuals: TMY2, table 3-5; NSRDB, table 3-8): as the station reported; a straight line over less than six
hours; estimated. A dew point marked E was calculated from dry bulb and relative humidity, so it is as good as they are."""

POSSIBLE = {"dry bulb": (-60.0, 60.0), "dew point": (-80.0, 40.0), "pressure": (50_000.0, 110_000.0)}
"""In degC and Pa. What lies beyond is the file's mark for a value that is missing."""


class NoAir(Exception):
    """There is no such file, day or reader; the text says which, and what to do."""


class Hour(NamedTuple):
    temperature_c: float
    dew_point_c: float
    pressure_pa: float
    temperature_from: str
    dew_point_from: str


@dataclass(frozen=True)
class StationYear:
    """`days` by their date, "MM-DD"; and why each of the others was left out."""

    file: str
    station: str
    days: dict[str, MeasuredDay]
    left_out: dict[str, str]

    def day(self, date: str) -> MeasuredDay:
        """Raises NoAir."""
        if date in self.left_out:
            raise NoAir(f"{self.file}: {date} was not measured throughout, {self.left_out[date]}; choose another day")
        if date not in self.days:
            raise NoAir(f"{self.file}: there is no day {date!r}; write month and day, for example 01-24 (no year has 02-29)")
        return self.days[date]


@cache
def packaged_years() -> tuple[StationYear, ...]:
    return tuple(station_year(name) for name in PACKAGED)


def station_year(name: str) -> StationYear:
    """The year in a file: a path, or the name of one that pvlib carries. Raises NoAir."""
    pvlib = _pvlib()
    path = Path(name)
    if not path.exists():
        path = Path(pvlib.__file__).parent / "data" / name
    if not path.is_file() or path.suffix.lower() not in READERS:
        raise NoAir(f"{name} is no weather file; give a TMY3 file (.csv), a TMY2 file (.tm2) or one of {', '.join(PACKAGED)}")
    try:
        station, dates, hours = READERS[path.suffix.lower()](pvlib.iotools, path)
    except (KeyError, ValueError, IndexError) as problem:
        kind = "TMY2" if path.suffix.lower() == ".tm2" else "TMY3"
        raise NoAir(f"{name} can't be read as {kind} ({type(problem).__name__}: {problem}); give a file of that format") from None
    if len(hours) != DAYS * 24 or len(set(dates)) != DAYS:
        raise NoAir(f"{name}: expected the 8760 hours of {DAYS} days, found {len(hours)} of {len(set(dates))}; give a whole year")
    return _in_days(path.name, station, dates, hours)


def _pvlib() -> Any:
    try:
        import pvlib
    except ImportError:
        raise NoAir("measured air needs pvlib, which is not installed; run 'make setup', or: pip install pvlib") from None
    return pvlib


def _tmy3(iotools: Any, path: Path) -> tuple[str, list[str], list[Hour]]:
    table, station = iotools.read_tmy3(path, coerce_year=None, map_variables=True)
    columns = [table[name] for name in ("temp_air", "temp_dew", "pressure", "Dry-bulb source", "Dew-point source")]
    hours = [Hour(dry, dew, hpa * PA_PER_HPA, *marks) for dry, dew, hpa, *marks in zip(*columns, strict=True)]
    return station["Name"].strip('"'), _dates(table), hours


def _tmy2(iotools: Any, path: Path) -> tuple[str, list[str], list[Hour]]:
    """Temperatures are in tenths here."""
    table, station = iotools.read_tmy2(path)
    columns = [table[name] for name in ("DryBulb", "DewPoint", "Pressure", "DryBulbSource", "DewPointSource")]
    hours = [Hour(dry / 10, dew / 10, hpa * PA_PER_HPA, *marks) for dry, dew, hpa, *marks in zip(*columns, strict=True)]
    return station["City"], _dates(table), hours


READERS: dict[str, Callable[..., tuple[str, list[str], list[Hour]]]] = {".csv": _tmy3, ".tm2": _tmy2}


def _dates(table: Any) -> list[str]:
    """Of each day's first row. Its place says which hour a row is: what pvlib stamps 01:00 in TMY3, it stamps 00:00 in TMY2."""
    return [f"{time:%m-%d}" for time in table.index[::24]]


def _in_days(file: str, station: str, dates: list[str], hours: list[Hour]) -> StationYear:
    """A file begins at 01:00 of its first day and ends at 24:00 of the last: that midnight also opens the year."""
    round_the_year = [hours[-1], *hours]
    days, left_out = {}, {}
    for number, date in enumerate(dates):
        day = round_the_year[24 * number : 24 * number + HOURS]
        faults = [f"{hour:02}:00 {fault}" for hour, one in enumerate(day) if (fault := _fault(one))]
        if faults:
            left_out[date] = f"{len(faults)} of {HOURS} hours ({faults[0]})"
        else:
            temperatures, dew_points, pressures, *_ = zip(*day, strict=True)
            days[date] = MeasuredDay(station, date, temperatures, dew_points, pressures)
    return StationYear(file, station, days, left_out)


def _fault(hour: Hour) -> str | None:
    """Why an hour's air was not measured."""
    for (name, (low, high)), value in zip(POSSIBLE.items(), hour[:3], strict=True):
        if not low <= value <= high:  # not a number either
            return f"has no {name}"
    if hour.dew_point_c > hour.temperature_c:
        return f"has a dew point of {hour.dew_point_c:g} °C above its {hour.temperature_c:g} °C"
    if hour.temperature_from not in (AS_RECEIVED, SHORT_GAP):
        return f"has a dry bulb that was filled in (source {hour.temperature_from})"
    if hour.dew_point_from not in (AS_RECEIVED, SHORT_GAP, ESTIMATED):
        return f"has a dew point that was filled in (source {hour.dew_point_from})"
    return None
