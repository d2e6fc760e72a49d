"""`booth airflow` on published figures: the result, the working, the rule, and no word that anybody is safe."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from CoolProp.HumidAirProp import HAPropsSI
from fluids.core import dP_from_K

from tests.cli.commands import booth

DATA = Path(__file__).parents[1] / "data/check_values.json"
CASES = {case["id"]: case for case in json.loads(DATA.read_text(encoding="utf-8"))["cases"]}
CUBIC_FOOT = 0.028316846592
FOOT = 0.3048


def run(*args: str) -> dict:
    said = booth("airflow", *args, "--json")
    assert said.code == 0, said.err
    return said.json


@pytest.mark.parametrize(
    ("case_id", "rule", "points", "whole"),
    [
        ("ven-trav-lt5", "log-tchebycheff", 5, 1),
        ("ven-trav-ll10", "log-linear", 10, 1),
        ("ven-epa1-12", "equal-area-round", 12, 100),
    ],
)
def test_positions_are_the_printed_ones(case_id: str, rule: str, points: int, whole: float) -> None:
    """ISO 3966 and ASHRAE Standard 111; EPA Method 1, table 1-2 (in per cent)."""
    made = run("positions", "--rule", rule, "--points", str(points))
    assert [whole * one for one in made["result"]] == pytest.approx(CASES[case_id]["expected"], abs=CASES[case_id]["tolerance"])


def test_positions_in_a_duct_of_a_size() -> None:
    made = run("positions", "--rule", "equal-area", "--points", "4", "--size", "2 m")
    assert (made["result"], made["unit"]) == (pytest.approx([0.25, 0.75, 1.25, 1.75]), "m")
    assert made["lines"][0] == "1: 0.125 = 250 mm from the wall"


@pytest.mark.parametrize("case_id", ["ven-pitot-1.0", "ven-pitot-0.25"])
def test_velocity_of_a_pressure_in_standard_air(case_id: str) -> None:
    """V = 4005 √VP, ACGIH Industrial Ventilation. 0.2 %: its constant takes water at 20 °C and air of 0.075 lb/ft³."""
    case = CASES[case_id]
    reading = f"{case['inputs']['VP_inwg']} inH2O"
    made = run("velocity", reading, "--temperature", "70 degF", "--humidity", "0.1")
    assert made["result"] / FOOT * 60 == pytest.approx(case["expected"], rel=0.002)


def test_pressures_are_made_velocities_before_they_are_averaged() -> None:
    """fluids.core.dP_from_K(1, ρ, V) is ρV²/2: two velocities there, their mean back here."""
    state = ("T", 295.15, "P", 101_325.0, "R", 0.5)  # 22 °C, 50 %
    density = (1 + HAPropsSI("W", *state)) / HAPropsSI("Vda", *state)  # of the moist air: Vda is by kg of dry air
    readings = [f"{dP_from_K(K=1.0, rho=density, V=one):.6f} Pa" for one in (2.0, 6.0)]
    made = run("velocity", *readings, "--temperature", "22 degC", "--area", "0.5 m^2")
    assert made["result"] == pytest.approx(4.0, rel=5e-4), "of the mean pressure it would be 4.47"
    assert "through 0.5 m² it makes 2.00 m³/s" in made["sentence"]


def test_a_standard_flow_names_its_basis() -> None:
    case = CASES["ven-acfm-scfm"]
    state = ("--temperature", "140 degF", "--pressure", f"{24.9 / 29.92 * 101.325} kPa")
    made = run("flow", "10000 ft^3/min", *state)
    assert made["result"][0] * 60 / CUBIC_FOOT == pytest.approx(case["expected"], rel=0.0005)  # 530/600 there, 529.67/599.67 here
    assert all(name in made["sentence"] for name in ("70 °F and 29.92 in. Hg", "20 °C and", "0 °C and"))
    back = run("flow", f"{made['result'][2]} m^3/s", *state, "--basis", "0degC")
    assert back["result"] * 60 / CUBIC_FOOT == pytest.approx(10000) and "DIN 1343" in back["rule"]


def test_heated_make_up_air_weighs_less() -> None:
    """The same 20 m³/s on both sides, at 60 °C and 20 °C, dry: the ideal gas law says 293.15/333.15 − 1 of the exhaust."""
    flows = ("--intake", "20 m^3/s", "--exhaust", "20 m^3/s")
    made = run("balance", *flows, "--intake-temperature", "60 degC", "--temperature", "20 degC", "--humidity", "0.01")
    assert "less is supplied than exhausted" in made["sentence"] and made["unit"] == "kg/s"
    assert f"{100 * (293.15 / 333.15 - 1):+.1f} % of the exhaust" in made["sentence"]


@pytest.mark.parametrize("changes", [2, 4, 10, 50])
def test_purge_times_are_those_of_the_printed_table(changes: int) -> None:
    """CDC (2003), Guidelines for Environmental Infection Control, table B.1: minutes to 99 % and 99.9 %."""
    case = CASES[f"ven-cdc-{changes}"]
    room = ("--flow", f"{changes / 36} m^3/s", "--volume", "100 m^3", "--mixing", "1")
    minutes = [run("purge", *room, "--share", share)["result"] / 60 for share in ("0.01", "0.001")]
    assert minutes == pytest.approx(case["expected"], abs=case["tolerance"])
    # And the other way about: after so long, so much is left.
    left = run("purge", *room, "--time", f"{minutes[0]} min")["result"]
    assert left == pytest.approx(0.01)


def test_volumes_and_mixing() -> None:
    """exp(−5.2/3), ACGIH Industrial Ventilation."""
    made = run("purge", "--volumes", "5.2", "--mixing", "3")
    assert made["result"] == pytest.approx(2.718281828459045 ** (-5.2 / 3)) and "CDC" in made["rule"]


def test_air_changes_that_a_decay_shows() -> None:
    case = CASES["ven-decay-inv"]
    made = run("decay", "1000 ppm", "10 ppm", "--time", f"{case['inputs']['t_min']} min")
    assert made["result"] == pytest.approx(case["expected"], abs=case["tolerance"])


@pytest.mark.parametrize(
    "args",
    [
        ("positions", "--rule", "log-linear", "--points", "6"),
        ("velocity", "0.5 m/s", "0.4 m/s"),
        ("flow", "20 m^3/s", "--temperature", "60 degC"),
        ("purge", "--volumes", "9", "--mixing", "1"),
        ("purge", "--flow", "19 m^3/s", "--volume", "190 m^3", "--share", "0.01", "--mixing", "2"),
        ("decay", "90 ppm", "30 ppm", "--time", "5 min"),
    ],
)
def test_it_shows_its_rule_and_never_says_that_anybody_is_safe(args: tuple[str, ...]) -> None:
    said = " ".join(booth("airflow", *args).out.lower().split())
    words = ("safe", "compliant", "acceptable", "permitted", "no risk", "purged", "clean", "clear to")
    assert "rule:" in said and not any(word in said for word in words)
    assert ("no gas reading" in said) == (args[0] == "purge")


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("positions", "--points", "5"), "positions follow a rule"),
        (("positions", "--rule", "log-linear"), "write --points 6"),
        (("positions", "--rule", "log-linear", "--points", "5"), "take 4, 6, 8, 10"),
        (("velocity",), "a grid has a reading of each point"),
        (("velocity", "0.5 m/s", "-", "0.4 m/s"), "point 2 of 3 has no reading"),
        (("velocity", "--", "0.5 m/s", "-0.1 m/s"), "point 2 of 2 reads -0.1"),
        (("velocity", "--temperature", "20 degC", "--", "-3 Pa"), "the two hoses are the wrong way round"),
        (("velocity", "25 Pa"), 'write --temperature "22 degC"'),
        (("velocity", "25 bananas"), "no velocity and no velocity pressure"),
        (("velocity", "25 Pa", "--temperature", "900 degC"), "outside what the formulas hold for"),
        (("velocity", "1 m/s", "--area", "0 m^2"), "--area must be above zero"),
        (("flow", "20 m^3/s"), '--temperature "60 degC"'),
        (("flow", "20 m^3/s", "--temperature", "20 degC", "--pressure", "0 Pa"), "--pressure must be above zero"),
        (("balance", "--intake", "20 m^3/s"), "both flows and the temperature of each"),
        (("purge", "--volumes", "5"), "for somebody to judge"),
        (("purge", "--mixing", "1"), "write either --volumes 5.2"),
        (("purge", "--volumes", "5", "--mixing", "0.5"), "1 for perfect mixing"),
        (("purge", "--volumes=-5", "--mixing", "1"), "a purge has no -5 volumes"),
        (("purge", "--flow", "19 m^3/s", "--mixing", "1"), '--volume "190 m^3"'),
        (("purge", "--flow", "19 m^3/s", "--volume", "190 m^3", "--mixing", "1"), "--share 0.01"),
        (("purge", "--flow", "0 m^3/s", "--volume", "190 m^3", "--share", "0.1", "--mixing", "1"), "flow must be above zero"),
        (("purge", "--flow", "1 m^3/s", "--volume", "0 m^3", "--time", "1 min", "--mixing", "1"), "volume must be above zero"),
        (("purge", "--flow", "1 m^3/s", "--volume", "9 m^3", "--share", "2", "--mixing", "1"), "a share lies above 0"),
        (("decay", "90 ppm", "--time", "5 min"), "the first and the last reading"),
        (("decay", "30 ppm", "90 ppm", "--time", "5 min"), "nothing decays"),
        (("decay", "90 ppm", "30 mg/m3", "--time", "5 min"), "write both in one unit"),
    ],
)
def test_wrong_figures_are_told(args: tuple[str, ...], says: str) -> None:
    said = booth("airflow", *args)
    assert said.code == 2 and says in " ".join(said.err.split())
