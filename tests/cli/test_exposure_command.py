"""`booth exposure` on published worked examples: the result, the working, the rule, and no word that anybody is safe."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.commands import booth

CONFIG = Path(__file__).parents[2] / "config"


def test_oshas_average() -> None:
    """29 CFR 1910.1000(d)(1)(ii): two hours at 150 ppm, two at 75, four at 50 -> 81.25 ppm; its limit is 100 ppm."""
    figures = ("150 ppm for 2 h", "75 ppm for 120 min", "50 ppm for 4 h")
    said = booth("exposure", "twa", *figures, "--limit", "100 ppm", "--source", "example's own", "--json")
    assert said.json["result"] == pytest.approx(81.25) and said.json["unit"] == "ppm"
    assert said.json["lines"][1] == "81.25 / 100 = 0.812 of the limit entered (example's own)"


def test_a_shift_of_twelve_hours_is_divided_by_eight() -> None:
    """29 CFR 1910.1000(d)(1)(i): E = (CaTa + … CnTn) ÷ 8, however long the shift: 12 h at 80 ppm are 120 ppm."""
    limit = ("--limit", "100 ppm", "--source", "made up")
    said = booth("exposure", "twa", "80 ppm for 12 h", "--shift", "12 h", *limit, "--json").json
    assert said["result"] == pytest.approx(120)
    assert said["lines"][0] == "(80 ppm × 12 h) / 8 h = 120 ppm" and "shift has 12 h" in said["lines"][1]
    assert "over 8 h, is 120 ppm, 1.20 of the limit" in said["sentence"]
    short = booth("exposure", "twa", "80 ppm for 8 h", "--shift", "12 h")
    assert short.code == 2 and "8 h of a shift of 12 h" in short.err


def test_oshas_mixture() -> None:
    """29 CFR 1910.1000(d)(2)(ii): 500/1000 + 45/200 + 40/200 = 0.925. From memory."""
    pairs = ("500 ppm of 1000 ppm", "45 ppm of 200 ppm", "40 ppm of 200 ppm")
    assert booth("exposure", "mixture", *pairs, "--source", "example", "--json").json["result"] == pytest.approx(0.925)


def test_a_mixture_above_one() -> None:
    """Crowl and Louvar, Chemical Process Safety, problem 3-2: 5/10 + 20/50 + 10/20 = 1.4."""
    said = booth("exposure", "mixture", "5 ppm of 10 ppm", "20 ppm of 50 ppm", "10 ppm of 20 ppm", "--source", "TLV")
    assert "1.400, above 1" in " ".join(said.out.split())


def test_conversion_and_back() -> None:
    """NIOSH Pocket Guide: 1 ppm of hexamethylene diisocyanate is 6.88 mg/m³ (25 °C, 1 atm)."""
    forward = booth("exposure", "convert", "1 ppm", "--molar-mass", "168.2", "--json").json
    assert forward["result"] == pytest.approx(6.88, abs=0.006) and forward["unit"] == "mg/m³"
    back = booth("exposure", "convert", f"{forward['result']} mg/m3", "--molar-mass", "168.2", "--json").json
    assert back["result"] == pytest.approx(1) and back["unit"] == "ppm"


def test_the_dilution_example_of_the_rule() -> None:
    """29 CFR 1910.94(c)(6)(ii), worked example: a gallon of toluene a minute asks for 8564 cfm (from memory); in that, 25 %."""
    args = ("--vapour", "30.4 ft^3/gallon", "--lel", "1.4", "--rate", "1 gallon/min", "--flow", "8564 ft^3/min")
    said = booth("exposure", "dilution", *args, "--source", "example", "--json").json
    assert said["result"] * 60 / 0.028316846592 == pytest.approx(8564, abs=1)
    assert "about 25.0 % of that limit" in said["sentence"]
    assert "no gas reading" in said["caution"]


def test_the_solvents_of_a_coatings_file() -> None:
    said = booth("exposure", "dilution", "--coating", "two-pack-clear", "--rate", "0.3 L/min", config=CONFIG)
    text = " ".join(said.out.split())
    assert "n-butyl acetate" in text and "the other 60 % of the liquid has no solvent stated" in text


@pytest.mark.parametrize(
    "args",
    [
        ("twa", "50 ppm for 8 h"),
        ("mixture", "1 ppm of 2 ppm", "--source", "s"),
        ("convert", "5 mg/m3", "--molar-mass", "92"),
        ("dilution", "--vapour", "30.4 ft^3/gallon", "--lel", "1.4", "--rate", "1 L/min"),
    ],
)
def test_it_never_says_that_anybody_is_safe(args: tuple[str, ...]) -> None:
    said = booth("exposure", *args).out.lower()
    assert "rule:" in said and not any(word in said for word in ("safe", "compliant", "acceptable", "permitted", "no risk"))


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("twa",), "twa needs figures"),
        (("twa", "150 ppm for 2 h"), "enter the rest too, with 0 only if"),
        (("twa", "150 ppm 2 h"), "write for example '150 ppm for 2 h'"),
        (("twa", "150 ppb for 8 h"), "is not a concentration; write for example 150 ppm"),
        (("twa", "1 ppm for 4 h", "1 mg/m3 for 4 h"), "convert one of them first"),
        (("twa", "1 ppm for 8 bananas"), "is not a time; write for example 2 h"),
        (("twa", "--", "-1 ppm for 8 h"), "is not a concentration"),
        (("twa", "1 ppm for 8 h", "--limit", "2 ppm"), "a limit has a source"),
        (("twa", "1 ppm for 8 h", "--limit", "2 mg/m3", "--source", "s"), "the limit is in mg/m³, the figures in ppm"),
        (("mixture", "1 ppm of 2 ppm"), "limits have a source"),
        (("mixture", "1 ppm of 0 ppm", "--source", "s"), "a limit is above zero"),
        (("convert", "1 ppm"), "--molar-mass 92.14"),
        (("convert", "1 ppm", "--molar-mass", "0"), "a molar mass is above zero"),
        (("dilution",), "dilution needs what the guns spray"),
        (("dilution", "--rate", "1 L/min"), "write either --coating, or --vapour with --lel"),
        (("dilution", "--rate", "1 L/min", "--vapour", "30 ft^3/gallon"), "write --lel 1.4"),
        (("dilution", "--rate", "1 L/min", "--vapour", "30 ft^3/gallon", "--lel", "140"), "lies between 0 and 100 %"),
        (("dilution", "--rate", "1 L/min", "--flow", "2 m^3/s"), "flow has a source"),
        (
            ("dilution", "--rate", "1 L/min", "--vapour", "30 ft^3/gallon", "--lel", "1", "--flow", "0 m^3/s", "--source", "s"),
            "without air nothing is diluted",
        ),
        (("dilution", "--rate", "1 L/min", "--coating", "ketchup", "--config", str(CONFIG)), "is not a coating of this shop"),
        (("dilution", "--rate", "1 L/min", "--coating", "epoxy-sealer", "--config", str(CONFIG)), "states no solvents"),
    ],
)
def test_wrong_figures_are_told(args: tuple[str, ...], says: str) -> None:
    said = booth("exposure", *args)
    assert said.code == 2 and says in " ".join(said.err.split())
