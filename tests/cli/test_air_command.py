"""`booth air` against published and independently computed values (tests/data/check_values.json names each source)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.commands import booth

VALUES = Path(__file__).parents[1] / "data" / "check_values.json"
CASES = {case["id"]: case for case in json.loads(VALUES.read_text(encoding="utf-8"))["cases"]}
KEYS = [
    "dew_point_c",
    "frost_point_c",
    "dew_point_margin_k",
    "humidity_ratio",
    "wet_bulb_c",
    "density_kg_m3",
    "vapour_pressure_pa",
    "saturation_pressure_pa",
    "enthalpy_j_kg",
    "pressure_pa",
]


def air(*options: str) -> dict:
    said = booth("air", *options, "--json")
    assert (said.code, said.err) == (0, "")
    return said.json


def test_the_keys_of_the_contract() -> None:
    found = air("--temperature", "22 degC", "--humidity", "60", "--surface", "18 degC")
    assert list(found) == KEYS
    assert found["frost_point_c"] is None and found["pressure_pa"] == 101325
    assert found["dew_point_margin_k"] == pytest.approx(18 - found["dew_point_c"], abs=1e-9)
    assert air("--temperature", "22 degC", "--humidity", "60")["dew_point_margin_k"] is None


@pytest.mark.parametrize("name", [name for name in CASES if name.startswith("psy-Td-")])
@pytest.mark.parametrize("unit", ["degC", "degF", "K"])
def test_dew_point(name: str, unit: str) -> None:
    case = CASES[name]
    celsius = case["inputs"]["t_C"]
    sent = {"degC": celsius, "degF": celsius * 9 / 5 + 32, "K": celsius + 273.15}[unit]
    pressure = f"{case['inputs'].get('p_Pa', 101325)} Pa"
    found = air("--temperature", f"{sent!r} {unit}", "--humidity", str(case["inputs"]["RH_pct"]), "--pressure", pressure)
    assert found["dew_point_c"] == pytest.approx(case["expected"], abs=case["tolerance"])


@pytest.mark.parametrize("celsius", [5, 25, 50])
def test_saturation_pressure(celsius: int) -> None:
    case = CASES[f"psy-pws-ashrae-{celsius}"]
    found = air("--temperature", f"{celsius} degC", "--humidity", "100")
    tolerance = case["tolerance"] * (case["expected"] if case["tolerance_kind"] == "rel" else 1)
    assert found["saturation_pressure_pa"] == pytest.approx(case["expected"], abs=tolerance)
    assert found["vapour_pressure_pa"] == pytest.approx(found["saturation_pressure_pa"])
    assert found["wet_bulb_c"] == pytest.approx(celsius, abs=0.01) and found["dew_point_c"] == pytest.approx(celsius, abs=0.01)


def test_standard_atmosphere() -> None:
    case = CASES["psy-atm-500"]
    metric = air("--temperature", "20 degC", "--humidity", "50", "--elevation", "500 m")["pressure_pa"]
    assert metric == pytest.approx(case["expected"][0], abs=case["tolerance"][0])
    feet = air("--temperature", "68 degF", "--humidity", "50", "--elevation", "1640.41995 ft")["pressure_pa"]
    assert feet == pytest.approx(metric, abs=0.1)
    assert air("--temperature", "20 degC", "--humidity", "50", "--pressure", "0.84 bar")["pressure_pa"] == pytest.approx(84000)


def test_below_freezing_a_frost_point_stands_beside_the_dew_point() -> None:
    """Over ice the pressure of saturation is lower, so frost forms at a higher temperature (WMO-No. 8, Part I, ch. 4)."""
    found = air("--temperature", "5 degC", "--humidity", "40")
    assert found["dew_point_c"] < found["frost_point_c"] < 0


def test_for_people_both_systems() -> None:
    said = booth("air", "--temperature", "72 degF", "--humidity", "60", "--surface", "64.4 degF")
    assert said.code == 0
    assert "°C" in said.out and "°F" in said.out and "°F difference" in said.out and "grains/lb" in said.out
    assert max(map(len, said.out.splitlines())) <= 80
