"""Air flow, dilution, exposure and content against published values: tests/data/check_values.json has each source and status.

What stands in no such file has its source beside it here. Nothing is tuned to our output.
"""

from __future__ import annotations

from collections.abc import Callable
from math import log, sqrt
from typing import Any

import numpy as np
import pytest
from chemicals.safety import fire_mixing, mgm3_to_ppmv, ppmv_to_mgm3
from fluids.core import dP_from_K

from booth.physics import airflow, content, dilution, exposure, moist_air, traverse
from booth.units import affine

TOPICS = ("Booth ventilation", "Exposure and VOC arithmetic", "Filters and pressure")
ELSEWHERE = {
    *("ven-cdc-2", "ven-cdc-4", "ven-cdc-10", "ven-cdc-50", "ven-ach"),  # test_physics_published.py
    *("ven-g10-es", "ven-g10-air50", "ven-1910.107-velocity", "ven-1910.107-j", "fil-98"),  # what docs/ventilation.md prints
    *("voc-misprint", "ven-powerlaw", "exp-ppm-co2", "exp-387"),  # tests of their own below
}
NOT_CHECKED = {"voc-cvp": "composite vapour pressure belongs to solvent rules that the log doesn't tell of"}

CUBIC_FOOT, GALLON, PINT, POUND = 0.028316846592, 3.785411784e-3, 4.73176473e-4, 0.45359237  # SI, exact
FPM = 0.00508
INCH_WATER_20C = 248.64
"""The trade's constants 4005 and 1096.7 rest on water at 20 °C, 0.18 % lighter than at 4 °C (case fil-inwg)."""
STANDARD_LB_FT3 = 0.075 * POUND / CUBIC_FOOT
SEVENTY_F, SEA_LEVEL_PA = (70 - 32) / 1.8, 101_325.0


def fpm(i: dict) -> float:
    return airflow.velocity_m_s(i["VP_inwg"] * INCH_WATER_20C, STANDARD_LB_FT3, 1) / FPM


def inches_hg(value: float) -> float:
    return value * SEA_LEVEL_PA / 29.92


def standard_cfm(i: dict) -> float:
    return airflow.flow_at(i["acfm"], (i["t_F"] - 32) / 1.8, inches_hg(i["P_inHg"]), airflow.STANDARD_AIR)


def vapour_cfm(pints_per_min: float, gravity: float, molar_mass: float) -> float:
    """ft³ of vapour a minute at 70 °F: what ACGIH writes as 403 SG ER/MW."""
    return pints_per_min * PINT / CUBIC_FOOT * dilution.vapour_volume(gravity * 998.2, molar_mass, SEVENTY_F, SEA_LEVEL_PA)


def dilution_for_health(i: dict) -> list[float]:
    vapour = vapour_cfm(i["ER_pt_min"], i["SG"], i["MW"])
    return [dilution.dilution_flow_m3_s(vapour, i["C_ppm"], k) for k in (1, i["K"])]


def dilution_for_fire(i: dict) -> list[float]:
    vapour = vapour_cfm(i["ER_pt_min"], 0.88, 106)
    hot = (i["t_F"] - 32) / 1.8
    return [dilution.fire_flow_m3_s(vapour, 1.0, 10, 0.7, t, SEVENTY_F) for t in (SEVENTY_F, hot)]


def vapour_of_pounds(i: dict) -> float:
    volume = dilution.vapour_volume(1, i["MW"], SEVENTY_F, SEA_LEVEL_PA)  # m³ of vapour by kg
    return i["lb"] * POUND * volume / CUBIC_FOOT / i["min"]


def florida_table(i: dict) -> list[float]:
    solids = content.solids_share(i["C"], i["D"])
    return [1 - solids, solids, 1 / solids, content.voc_by_solids(i["C"], i["D"])]


CHECKS: dict[str, Callable[[dict], Any]] = {
    "ven-pitot-1.0": fpm,
    "ven-pitot-0.25": fpm,
    "ven-pitot-SI": lambda i: airflow.velocity_m_s(i["VP_Pa"], i["rho"], 1),
    "ven-density": lambda i: airflow.density_factor((i["t_F"] - 32) / 1.8, inches_hg(i["P_inHg"])),
    "ven-acfm-scfm": standard_cfm,
    "ven-trav-lt5": lambda i: traverse.log_tchebycheff(i["n"]),
    "ven-trav-ll10": lambda i: traverse.log_linear(i["n"]),
    "ven-epa1-12": lambda i: np.multiply(traverse.equal_area_round(i["n"]), 100),
    "ven-decay-inv": lambda i: dilution.air_changes_of_decay(i["C1"], i["C2"], 60 * i["t_min"]),
    "ven-g11-acetone": lambda i: dilution.dilution_volume(i["ft3_per_gal"], i["LEL_pct"]),
    "ven-dilution-example": lambda i: dilution.dilution_volume(i["ft3_per_gal"], i["LEL_pct"]),
    "ven-lel-ppm": lambda i: 1e6 * i["LEL_pct"] / 100 * i["frac"],
    "ven-lechatelier": lambda i: dilution.mixture_lel_percent(i["y"], i["LEL"]),
    "exp-twa-osha": lambda i: exposure.time_weighted_average(i["C_ppm"], i["T_h"]),
    "exp-hdi-conv": lambda i: exposure.mg_m3_of_ppm(1, i["MW"], 25, SEA_LEVEL_PA),
    "exp-dil-acgih": dilution_for_health,
    "exp-dil-fire": dilution_for_fire,
    "voc-fac-1": florida_table,
    "voc-tac": lambda i: content.voc_by_solids(i["C"], i["D"]),
    "voc-exempt": lambda i: content.less_exempt(i["y"], i["x"], i["d"]),
    "voc-mix-thin": lambda i: content.blend(i["V"], i["C"]),
    "voc-mix-water": lambda i: content.blend(i["V"], i["C"]),
    "voc-lbgal": lambda i: affine("lb/gallon", "density")[0] * 1000,
    "fil-inwg": lambda i: affine("in. w.g.", "pressure")[0],
}
FIRST_OF_SEVERAL = {"fil-inwg": 0}  # in. w.g. at 4 °C is the convention that the documents state


@pytest.mark.parametrize("case_id", CHECKS)
def test_published_air_value(case_id, published):
    published.check(case_id, CHECKS[case_id](published.inputs(case_id)), FIRST_OF_SEVERAL.get(case_id))


def test_every_published_air_value_is_checked_or_explained(published):
    ours = {case_id for case_id, case in published.cases.items() if case["topic"] in TOPICS}
    shown = {one for one in ours if one.startswith("ven-cdc")}
    assert ours - set(CHECKS) - ELSEWHERE - shown == set(NOT_CHECKED)


def test_clearing_times_are_those_of_the_printed_tables(published):
    tables = {case_id for case_id in published.cases if case_id.startswith("ven-cdc")}
    assert len(tables) >= 4
    for case_id in tables:
        case = published.cases[case_id]
        shares = (0.01, 0.001) if len(case["expected"]) == 2 else (0.1, 0.01, 0.001)
        published.check(case_id, dilution.clearing_time_s(case["inputs"]["ACH"], shares, 1) / 60)


# 29 CFR 1910.94(c)(6)(ii), table G-11: ft³ of vapour by gallon at 70 °F, LEL in % -> ft³ of air by gallon to 25 % of the LEL.
# The table from memory (the formula was read, in the State of Washington's copy, WAC 296-62-11019).
G_11 = {
    "acetone": (44.0, 2.6, 6593),
    "amyl acetate (iso)": (21.6, 1.0, 8554),
    "amyl alcohol": (29.6, 1.2, 9748),
    "benzene": (36.8, 1.4, 10367),
    "butyl alcohol (n)": (35.2, 1.4, 9916),
    "2-butoxyethanol": (24.8, 1.1, 8919),
    "2-ethoxyethanol": (33.6, 1.8, 7332),
    "2-ethoxyethyl acetate": (23.2, 1.7, 5366),
    "1,1-dichloroethylene": (42.4, 5.9, 2705),
    "1,2-dichloroethylene": (42.4, 9.7, 1579),
    "ethyl acetate": (32.8, 2.5, 5117),
    "ethyl alcohol": (55.2, 4.3, 4914),
    "ethyl lactate": (28.0, 1.5, 7355),
    "methyl acetate": (40.0, 3.1, 5001),
    "methyl alcohol": (80.8, 7.3, 4104),
    "methyl ethyl ketone": (36.0, 1.8, 7856),
    "naphtha (VM&P)": (22.4, 0.9, 9866),
    "stoddard solvent": (23.2, 1.0, 9187),
    "propyl acetate (n)": (27.2, 2.8, 3777),
    "propyl acetate (iso)": (28.0, 1.1, 10070),
    "propyl alcohol (iso)": (44.0, 2.0, 8624),
    "toluene": (30.4, 1.4, 8564),  # the worked example
    "turpentine": (20.8, 0.8, 10317),
}


@pytest.mark.parametrize("solvent", G_11)
def test_a_row_of_table_g11(solvent):
    vapour, lel, air = G_11[solvent]
    assert dilution.dilution_volume(vapour, lel) == pytest.approx(air, abs=1)
    # And backwards: a gallon a minute in that much air is a quarter of the limit.
    assert dilution.share_of_lel(vapour, dilution.dilution_volume(vapour, lel), lel) == pytest.approx(0.25)


# Liquid densities at 20 °C in kg/m³, CRC Handbook of Chemistry and Physics, and molar masses: from memory.
@pytest.mark.parametrize(
    ("solvent", "density", "molar_mass"),
    [("acetone", 790, 58.08), ("toluene", 867, 92.14), ("ethyl acetate", 900, 88.11), ("methyl ethyl ketone", 805, 72.11)],
)
def test_vapour_by_gallon_follows_from_density_and_molar_mass(solvent, density, molar_mass):
    by_gallon = dilution.vapour_volume(density, molar_mass, SEVENTY_F, SEA_LEVEL_PA) * GALLON / CUBIC_FOOT
    assert by_gallon == pytest.approx(G_11[solvent][0], rel=0.05)


# 29 CFR 1910.1000(d)(2)(ii), worked example of a mixture: 500/1000 + 45/200 + 40/200 = 0.925. From memory.
def test_oshas_mixture_example():
    assert exposure.mixture_sum([500, 45, 40], [1000, 200, 200]) == pytest.approx(0.925, abs=1e-9)


# Crowl and Louvar, Chemical Process Safety, problem 3-2: 5/10 + 20/50 + 10/20.
def test_textbook_mixture():
    assert exposure.mixture_sum([5, 20, 10], [10, 50, 20]) == pytest.approx(1.4)


def test_a_printed_voc_example_is_wrong(published):
    """Organic Finishing Guidebook (2013), appendix B, example 3: 52 % water, 42 % solids, solvent of 7.36 lb/gal. It prints 0.76
    lb/gal less water, which is the VOC over 0.58 gal; without its water the gallon has 0.48."""
    voc = (1 - 0.52 - 0.42) * 7.36  # lb in a gallon
    material = content.Content(volatile=voc + 0.52 * 8.34, water=0.52 * 8.34, exempt=0, water_volume=0.52, exempt_volume=0)
    published.check("voc-misprint", content.voc_less_water_and_exempt(material))
    assert voc / 0.58 == pytest.approx(0.76, abs=0.005)  # how the printed figure comes about
    assert abs(content.voc_less_water_and_exempt(material) - 0.76) > 0.1


# 40 CFR 63.3951(e) to (g), equations 1 to 3 (wording read; the numbers are check_values' own illustration).
def test_hap_by_litre_of_solids():
    assert content.hap_by_solids([100, 20, 10], 5, 400) == pytest.approx(0.3125)


@pytest.mark.parametrize(("lines", "printed"), [(6, (0.061, 0.235, 0.437, 0.563, 0.765, 0.939))])
def test_log_tchebycheff_of_six_lines(lines, printed):
    """ISO 3966 and ASHRAE Standard 111, as two manuals reproduce them."""
    assert traverse.log_tchebycheff(lines) == printed


@pytest.mark.parametrize(("points", "printed"), [(4, (6.7, 25, 75, 93.3)), (8, (3.2, 10.5, 19.4, 32.3, 67.7, 80.6, 89.5, 96.8))])
def test_equal_area_positions_of_a_round_duct(points, printed):
    """EPA Method 1, table 1-2, in % of the diameter: from memory."""
    assert np.multiply(traverse.equal_area_round(points), 100) == pytest.approx(printed, abs=0.051)


@pytest.mark.parametrize("positions", [*map(traverse.log_linear, traverse.LOG_LINEAR), traverse.equal_area_round(20)])
def test_a_traverse_finds_the_mean_of_a_turbulent_profile(positions, published):
    """Velocity by the 1/7 power of the distance to the wall has the mean 49/60 of its greatest (Schlichting)."""
    velocities = [(2 * min(one, 1 - one)) ** (1 / 7) for one in positions]
    published.check("ven-powerlaw", traverse.grid(velocities).mean / (49 / 60) * 0.81667)
    assert traverse.grid(velocities).mean == pytest.approx(49 / 60, rel=0.005)


@pytest.mark.parametrize("lines", traverse.LOG_TCHEBYCHEFF)
def test_a_rectangular_traverse_finds_the_mean_of_a_turbulent_profile(lines):
    """Between two walls the 1/7 power law has the mean 7/8; equal areas alone would read it too high."""

    def mean(positions: tuple[float, ...]) -> float:
        return traverse.grid([(2 * min(one, 1 - one)) ** (1 / 7) for one in positions]).mean

    assert mean(traverse.log_tchebycheff(lines)) == pytest.approx(7 / 8, rel=0.005)
    assert abs(mean(traverse.log_tchebycheff(lines)) - 7 / 8) < abs(mean(traverse.equal_area(lines)) - 7 / 8)


@pytest.mark.parametrize("velocity", [0.3, 2.0, 12.0])
def test_a_velocity_pressure_is_one_velocity_head_of_fluids(velocity):
    """The `fluids` package: the loss of a fitting with K = 1 is one velocity head."""
    head = dP_from_K(1.0, 1.18, velocity)
    assert airflow.velocity_pressure_pa(velocity, 1.18) == pytest.approx(head)
    assert airflow.velocity_m_s(head, 1.18, 1) == pytest.approx(velocity)
    assert airflow.velocity_m_s(head, 1.18, 0.84) == pytest.approx(0.84 * velocity)


@pytest.mark.parametrize(("t_c", "p_pa"), [(25, 101_325), (20, 101_325), (32, 84_000)])
def test_ppm_and_mg_as_the_chemicals_package(t_c, p_pa):
    ours = exposure.mg_m3_of_ppm(50, 92.14, t_c, p_pa)
    assert ours == pytest.approx(ppmv_to_mgm3(50, 92.14, t_c + 273.15, p_pa), rel=1e-9)
    assert exposure.ppm_of_mg_m3(ours, 92.14, t_c, p_pa) == pytest.approx(50)
    assert exposure.ppm_of_mg_m3(7, 92.14, t_c, p_pa) == pytest.approx(mgm3_to_ppmv(7, 92.14, t_c + 273.15, p_pa), rel=1e-9)


def test_figures_whose_sources_round_the_molar_volume(published):
    """24.45 for 24.465 L/mol at 25 °C, 387 for 386.8 ft³/lbmol at 70 °F: 0.06 %, and CO₂ is then printed as 9000."""
    co2, evaporated = (published.cases[one] for one in ("exp-ppm-co2", "exp-387"))
    i = co2["inputs"]
    assert exposure.mg_m3_of_ppm(i["ppm"], i["MW"], 25, SEA_LEVEL_PA) == pytest.approx(co2["expected"], rel=0.001)
    assert vapour_of_pounds(evaporated["inputs"]) == pytest.approx(evaporated["expected"], rel=0.001)


def test_le_chatelier_as_the_chemicals_package():
    shares, limits = [0.2, 0.5, 0.3], [1.4, 2.5, 1.1]
    assert dilution.mixture_lel_percent(shares, limits) == pytest.approx(fire_mixing(shares, limits))


def test_build_up_and_decay():
    """ACGIH Industrial Ventilation, chapter 2: G = 1 cfm, Q = 1000 cfm, V = 10 000 ft³, ten minutes -> 632 ppm."""
    assert dilution.build_up_ppm(1, 1000, 10_000, 10) == pytest.approx(632.12, abs=0.01)
    assert dilution.clearing_time_s(60, 0.01, 3) == pytest.approx(3 * 60 * log(100))


def test_the_us_form_of_the_pitot_equation():
    """V = 1096.7 √(VP/ρ) fpm with ρ in lb/ft³ and VP in in. w.g.: ASHRAE 111 and ACGIH, from memory."""
    ours = airflow.velocity_m_s(0.4 * INCH_WATER_20C, 0.068 * POUND / CUBIC_FOOT, 1) / FPM
    assert ours == pytest.approx(1096.7 * sqrt(0.4 / 0.068), rel=0.0005)


@pytest.mark.parametrize(
    ("basis", "kg_m3"),
    [
        (airflow.STANDARD_AIR, 0.075 * POUND / CUBIC_FOOT),  # ACGIH: 0.075 lb/ft³ at 70 °F
        (airflow.STANDARD_EPA, 1.2041),  # dry air at 20 °C and 101.325 kPa, handbook value from memory
        (airflow.NORMAL, 1.2929),  # dry air at 0 °C and 101.325 kPa, handbook value from memory
    ],
    ids=lambda one: getattr(one, "name", one),
)
def test_air_at_each_basis_has_the_density_of_the_handbooks(basis, kg_m3):
    assert moist_air.density_kg_m3(basis.temperature_c, 0, basis.pressure_pa) == pytest.approx(kg_m3, rel=0.002)


def test_equal_parts_of_a_side_are_measured_in_their_middles():
    """Plain geometry: the middles of thirds lie at 1/6, 3/6 and 5/6."""
    assert traverse.equal_area(3) == pytest.approx((1 / 6, 1 / 2, 5 / 6))
    assert traverse.equal_area(1) == (0.5,)
