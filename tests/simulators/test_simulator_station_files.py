"""Measured days against the text of the files they come from, pvlib's own reading of it, and PsychroLib's humidity."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import psychrolib
import pvlib
import pytest

from simulators import publish
from simulators.station_files import PACKAGED, NoAir, StationYear, packaged_years, station_year
from tests.simulators.station_text import FOLDER, Line, lines_of

YEARS = dict(zip(PACKAGED, packaged_years(), strict=True))
TMY3 = "723170TYA.CSV"
DRY, DEW = "Dry-bulb (C)", "Dew-point (C)"


def moments(line: Line, year: StationYear) -> list[tuple[str, int]]:
    """Where an hour stands: the 24th is also the next day's first, and the year's last its first."""
    dates = sorted({*year.days, *year.left_out})
    following = dates[(dates.index(line.date) + 1) % len(dates)]
    return [(line.date, line.hour), (following, 0)] if line.hour == 24 else [(line.date, line.hour)]


@pytest.mark.parametrize("file", PACKAGED)
def test_every_measured_hour_stands_as_in_the_file(file: str) -> None:
    year, found = YEARS[file], 0
    for line in lines_of(file):
        for date, hour in moments(line, year):
            if date in year.days:
                day, found = year.days[date], found + 1
                values = (day.temperature_c[hour], day.dew_point_c[hour], day.pressure_pa[hour])
                assert values == (line.dry_bulb_c, line.dew_point_c, line.pressure_hpa * 100), (date, hour)
    assert found == 25 * len(year.days)


@pytest.mark.parametrize("file", PACKAGED[:2])
def test_an_hour_is_the_one_that_pvlib_stamps(file: str) -> None:
    """Local standard time; its TMY2 stamps are those of the hour before, so the text above must do for that format."""
    table, _ = pvlib.iotools.read_tmy3(FOLDER / file, coerce_year=1990, map_variables=True)
    for time, dry_bulb, dew_point in zip(table.index, table["temp_air"], table["temp_dew"], strict=True):
        day = YEARS[file].days.get(f"{time:%m-%d}")
        if day is not None:
            assert (day.temperature_c[time.hour], day.dew_point_c[time.hour]) == (dry_bulb, dew_point), time


@pytest.mark.parametrize("file", PACKAGED)
def test_dry_bulb_and_dew_point_give_the_humidity_beside_them(file: str) -> None:
    """By PsychroLib (ASHRAE), within what is rounded away: humidity to 1 %, both temperatures to 0.1 K.

    Above freezing only: below, stations differ about ice and water. One hour in a hundred of these files contradicts itself, some
    by much; so a share is stated.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    year, within = YEARS[file], []
    for line in lines_of(file):
        if line.date in year.days and line.dew_point_c > 0:
            day = year.days[line.date]
            dry_bulb, dew_point = day.temperature_c[line.hour], day.dew_point_c[line.hour]
            humidity = 100 * psychrolib.GetRelHumFromTDewPoint(dry_bulb, dew_point)
            rounded = 0.5 + humidity * 0.05 * (steepness(dry_bulb) + steepness(dew_point))
            within.append(abs(humidity - line.humidity_percent) <= rounded)
    assert len(within) > 3000
    assert sum(within) >= 0.98 * len(within)


def steepness(temperature_c: float) -> float:
    """By what share the saturation pressure grows in a kelvin."""
    low, high = (psychrolib.GetSatVapPres(temperature_c + step) for step in (-0.5, 0.5))
    return (high - low) / psychrolib.GetSatVapPres(temperature_c)


@pytest.mark.parametrize("file", PACKAGED)
def test_a_day_is_left_out_where_an_hour_was_filled_in(file: str) -> None:
    """Source C: curves over a gap of 6 to 47 hours; D: another year's; E: a model (NSRDB user's manual, table 3-8)."""
    year = YEARS[file]
    filled = {date for line in lines_of(file) if line.dry_bulb_source in "CDE" for date, _ in moments(line, year)}
    assert set(year.left_out) == filled
    assert len(year.days) + len(year.left_out) == 365


def test_seasons_and_places() -> None:
    """Facts of geography: winters are colder than summers, most of all inland; by a warm sea they beat a cold sea's summers.

    On the island the whole July and all but a day of January were filled in, so February and August stand for its seasons.
    """
    island, inland, warm = YEARS.values()
    assert {date[:2] for date in island.days}.isdisjoint({"07"})
    assert mean(inland, "01") < mean(inland, "07") and mean(warm, "01") < mean(warm, "07")
    assert 3 < mean(island, "08") - mean(island, "02") < mean(inland, "08") - mean(inland, "02")
    assert mean(warm, "01") > mean(island, "08") + 5


def mean(year: StationYear, month: str) -> float:
    values = [value for date, day in year.days.items() if date.startswith(month) for value in day.temperature_c[:24]]
    return sum(values) / len(values)


def with_lines(folder: Path, change) -> Path:
    """A copy of a file with its lines changed; the first two say what and where."""
    lines = (FOLDER / TMY3).read_text(encoding="utf-8").splitlines()
    path = folder / "changed.csv"
    path.write_text("\n".join(change(lines)) + "\n", encoding="utf-8")
    return path


def test_a_day_with_a_value_missing_or_impossible_is_left_out_and_counted(tmp_path: Path) -> None:
    """Hours of the year, the first being 01:00 of its first day."""

    def spoilt(lines: list[str]) -> list[str]:
        header = lines[1].split(",")
        for row, column, value in ((13, DRY, "-9900"), (72, DEW, "30.0"), (101, "Pressure (mbar)", "")):
            cells = lines[1 + row].split(",")
            cells[header.index(column)] = value
            lines[1 + row] = ",".join(cells)
        return lines

    year = station_year(str(with_lines(tmp_path, spoilt)))
    assert list(year.left_out) == ["01-01", "01-03", "01-04", "01-05"]  # the third day's midnight is the fourth's too
    assert len(year.days) == 361
    assert "13:00 has no dry bulb" in year.left_out["01-01"]
    assert "24:00 has a dew point of 30 °C above its" in year.left_out["01-03"]
    assert "05:00 has no pressure" in year.left_out["01-05"]
    with pytest.raises(NoAir, match=r"changed.csv: 01-01 was not measured throughout, 1 of 25 hours \(13:00 has no dry bulb\)"):
        year.day("01-01")


def test_what_is_no_year_of_weather_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(NoAir, match="found 8736 of 364; give a whole year"):
        station_year(str(with_lines(tmp_path, lambda lines: lines[:-24])))
    for name, text in (("a.csv", ""), ("b.csv", "time,value\n1,2\n"), ("c.tm2", "no station\n1 2 3\n"), ("d.csv", "\n" * 9)):
        (tmp_path / name).write_text(text, encoding="utf-8")
        with pytest.raises(NoAir, match=rf"{name} can't be read as TMY[23]"):
            station_year(str(tmp_path / name))
    with pytest.raises(NoAir, match=r"nowhere.csv is no weather file; give .* 12839.tm2"):
        station_year("nowhere.csv")
    with pytest.raises(NoAir, match="no day '02-29'; write month and day"):
        YEARS[TMY3].day("02-29")


def test_without_pvlib_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture) -> None:
    monkeypatch.setitem(sys.modules, "pvlib", None)
    with pytest.raises(SystemExit) as stopped:
        publish.main(["--air", TMY3, "02-24"])
    assert stopped.value.code == 2
    assert "simulators: measured air needs pvlib, which is not installed; run 'make setup'" in capsys.readouterr().err


def test_invented_air_needs_no_pvlib() -> None:
    script = "import sys, simulators.publish, simulators.any_shift; print('pvlib' in sys.modules, 'pandas' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
