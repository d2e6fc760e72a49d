"""Air between the measured hours, and a shop that breathes it: fronts as the stations had them, what a booth makes of them."""

from __future__ import annotations

from dataclasses import replace

import psychrolib
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators.any_shift import any_shift, measured_shift
from simulators.measured_air import HOUR, HOURS, MeasuredAir, MeasuredDay
from simulators.plant import Plant
from simulators.scenario import Scenario, Setting, at
from simulators.station_files import PACKAGED, packaged_years
from simulators.tern_valley import TERN_VALLEY
from simulators.truth import Truth
from tests.simulators.station_text import FOLDER

ALL_DAYS = [day for year in packaged_years() for day in year.days.values()]
SHIFT = range(6, 15)
FRONT_H = 3


def rise(day: MeasuredDay) -> float:
    """The most that the dew point rises in three hours between 06:00 and 14:00."""
    return max(day.dew_point_c[hour] - day.dew_point_c[hour - FRONT_H] for hour in SHIFT[FRONT_H:])


FRONT = max(ALL_DAYS, key=rise)
COLDEST = min(ALL_DAYS, key=lambda day: min(day.temperature_c[6:15]))


def idle_booth(day: MeasuredDay, begin: str, end: str) -> Scenario:
    """One booth without a van, heated to 23.5 °C: no humidifier runs, and nothing evaporates."""
    held = (("north", 23.5), ("mask-room", 22.0), ("mix-room", 22.0))
    nothing = dict.fromkeys(("visits", "mixes", "faults", "bursts", "notes", "care", "misses"), ())
    settings = tuple(Setting(0, place, wanted) for place, wanted in held)
    alone = replace(TERN_VALLEY, booths=TERN_VALLEY.booths[:1], settings=settings, **nothing)
    return replace(alone, start=at(begin), end=at(end)).under(day)


@given(st.sampled_from(ALL_DAYS), st.integers(0, HOURS - 1), st.integers())
def test_at_the_full_hour_the_air_is_the_measured_one(day: MeasuredDay, hour: int, seed: int) -> None:
    air = MeasuredAir(seed, day).at(hour * HOUR)
    measured = (day.temperature_c[hour], day.dew_point_c[hour], day.pressure_pa[hour])
    assert (air.temperature_c, air.dew_point_c, air.pressure_pa) == pytest.approx(measured, abs=1e-9)


@given(st.sampled_from(ALL_DAYS), st.floats(0, 24 * HOUR), st.integers())
def test_between_hours_it_stays_near_them_and_is_never_more_than_saturated(day: MeasuredDay, second: float, seed: int) -> None:
    air, hour = MeasuredAir(seed, day).at(second), min(int(second // HOUR), HOURS - 2)
    assert air == MeasuredAir(seed, day).at(second)
    assert air.dew_point_c <= air.temperature_c
    for value, measured, unrest in (
        (air.temperature_c, day.temperature_c, 0.3),
        (air.dew_point_c, day.dew_point_c, 0.5),  # its own unrest, and that of a dry bulb which it may not pass
        (air.pressure_pa, day.pressure_pa, 0.0),
    ):
        around = measured[hour : hour + 2]
        assert min(around) - unrest - 1e-9 <= value <= max(around) + unrest + 1e-9
    if air.dew_point_c > 0.02:  # below the triple point PsychroLib goes over ice, stations and we over water
        psychrolib.SetUnitSystem(psychrolib.SI)
        expected = psychrolib.GetHumRatioFromTDewPoint(air.dew_point_c, air.pressure_pa)
        assert air.humidity_ratio == pytest.approx(expected, rel=2e-3)


def test_a_second_beyond_the_day_is_an_error() -> None:
    with pytest.raises(ValueError, match="ends by midnight"):
        MeasuredAir(1, FRONT).at(24 * HOUR + 1)
    with pytest.raises(ValueError, match="dew_point_c has 24 values; give 25"):
        replace(FRONT, dew_point_c=FRONT.dew_point_c[1:])


@pytest.mark.parametrize("file", PACKAGED[:2])
def test_the_strongest_front_of_a_year_comes_through(file: str) -> None:
    """Found by pandas in pvlib's table: the largest change of dew point in three hours of one day."""
    table, _ = pvlib.iotools.read_tmy3(FOLDER / file, coerce_year=1990, map_variables=True)
    year = packaged_years()[PACKAGED.index(file)]
    change = table["temp_dew"].diff(FRONT_H)
    kept = [time.hour >= FRONT_H and f"{time:%m-%d}" in year.days for time in table.index]
    time = change[kept].abs().idxmax()
    air = MeasuredAir(5, year.days[f"{time:%m-%d}"])
    seen = air.at(time.hour * HOUR).dew_point_c - air.at((time.hour - FRONT_H) * HOUR).dew_point_c
    assert seen == pytest.approx(change[time])
    assert abs(seen) > 5  # in three hours: no drift of a calm day


def test_a_real_front_takes_the_margin_of_a_heated_booth() -> None:
    """It has no drier, so its dew point is the outside's; heated to a fixed temperature, it loses what the dew point gains."""
    assert rise(FRONT) > 10
    plant, seen = Plant(1, idle_booth(FRONT, "06:00", "14:00")), {}
    for time in plant.times():
        plant.tick(time)
        second = (time - plant.scenario.midnight) // 1_000_000
        if second % HOUR == 0:
            booth = plant.booths["north"]
            pressure = plant.outside.pressure_pa
            seen[second // 3600] = (booth.values(pressure)["air-temperature"], booth.dew_point_c(pressure))
    assert list(seen) == list(SHIFT)
    for hour, (temperature_c, dew_point_c) in seen.items():
        assert temperature_c == pytest.approx(23.5, abs=0.3), hour
        assert dew_point_c == pytest.approx(FRONT.dew_point_c[hour], abs=0.3), hour
    margins = {hour: temperature_c - dew_point_c for hour, (temperature_c, dew_point_c) in seen.items()}
    fall = max(margins[hour - FRONT_H] - margins[hour] for hour in SHIFT[FRONT_H:])
    assert fall == pytest.approx(rise(FRONT), abs=0.5)


def test_an_idle_booth_keeps_its_temperature_in_the_worst_frost() -> None:
    assert min(COLDEST.temperature_c[6:9]) < -10
    plant = Plant(1, idle_booth(COLDEST, "06:00", "08:00"))
    air = []
    for time in plant.times():
        plant.tick(time)
        air.append(plant.booths["north"].values(plant.outside.pressure_pa)["air-temperature"])
    assert min(air) > 23.2 and max(air) < 23.8


def test_a_measured_shift_is_the_seeds_own_under_other_air() -> None:
    stations, months = set(), set()
    for seed in range(200):
        measured, invented = measured_shift(seed), any_shift(seed)
        day = measured.climate
        assert replace(measured, name="", climate=None, midnight=0) == replace(invented, name="", climate=None, midnight=0)
        assert measured.name == f"random shift {seed} (invented), under the air of {day.station} on {day.date}"
        stations.add(day.station)
        months.add(day.date[:2])
    assert measured_shift(7) == measured_shift(7)
    assert len(stations) == 3 and len(months) == 12


def test_the_hidden_truth_says_that_the_air_is_real() -> None:
    plant = Plant(1, idle_booth(FRONT, "06:00", "06:00"))
    document = Truth(plant).document()
    assert document["about"] == "Hidden truth of a simulated shift. All of it is invented but the outside air."
    assert document["scenario"].endswith(f"under the air of {FRONT.station} on {FRONT.date}")
