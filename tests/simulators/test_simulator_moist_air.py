"""The simulator's own moist air against the reference grid (tests/data/moist_air_grid.csv: PsychroLib 2.5.0, CoolProp
8.0.0 and Sonntag's formula, made outside this project) and against PsychroLib itself (ASHRAE Fundamentals 2017, ch. 1).
"""

from __future__ import annotations

import csv
from pathlib import Path

import psychrolib
import pytest

from simulators.moist_air import density_kg_m3, dew_point_c, humidity_ratio, saturation_pa, vapour_pressure_pa

GRID = Path(__file__).parents[1] / "data" / "moist_air_grid.csv"
ROWS = [
    {key: float(value) for key, value in row.items() if value}
    for row in csv.DictReader(GRID.read_text(encoding="utf-8").splitlines())
]
WARM = [row for row in ROWS if row["T_C"] > 0 and row["Tdp_psychrolib_C"] > 0]  # water, not ice, on both sides


def test_the_grid_is_there() -> None:
    assert len(WARM) > 300


def test_saturation_pressure_within_a_thousandth_of_ashrae() -> None:
    worst = max(abs(saturation_pa(row["T_C"]) / row["pws_psychrolib_Pa"] - 1) for row in WARM)
    assert worst < 1e-3


def test_dew_point_is_sonntags_and_within_a_hundredth_of_a_kelvin_of_ashrae() -> None:
    for row in WARM:
        ours = dew_point_c(row["RH_pct"] / 100 * saturation_pa(row["T_C"]))
        assert ours == pytest.approx(row["Tdp_sonntag_water_C"], abs=0.001)
        assert ours == pytest.approx(row["Tdp_psychrolib_C"], abs=0.01)


def test_humidity_ratio_and_back() -> None:
    for row in WARM:
        vapour = row["RH_pct"] / 100 * saturation_pa(row["T_C"])
        if vapour > 0.5 * row["P_Pa"]:
            continue  # near boiling the ratio runs away and the formulas' small differences with it
        ratio = humidity_ratio(vapour, row["P_Pa"])
        assert ratio == pytest.approx(row["W_psychrolib_kgkg"], rel=2e-3)
        assert vapour_pressure_pa(ratio, row["P_Pa"]) == pytest.approx(vapour, rel=1e-12)


def test_density_of_dry_air() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    assert density_kg_m3(25.0, 98_240.0) == pytest.approx(psychrolib.GetDryAirDensity(25.0, 98_240.0), rel=1e-4)
