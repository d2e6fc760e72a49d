"""Units: hand values from the definitions, and the trap between a temperature and a temperature difference.

Definitions (BIPM SI brochure; NIST SP 811, appendix B): t/°C = (t/°F − 32)/1.8, 1 °F of difference = 5/9 K, 1 ft = 0.3048 m,
1 US gal = 3.785 411 784 L, 1 in = 25.4 mm. Inch of water: the 4 °C convention, tests/data/check_values.json, case fil-inwg.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.units import KINDS, UnitError, affine, parse, registry, show, show_both, show_us

CHECKS = json.loads((Path(__file__).parents[1] / "data/check_values.json").read_text(encoding="utf-8"))["cases"]


def published(identity: str) -> dict:
    return next(case for case in CHECKS if case["id"] == identity)


@pytest.mark.parametrize(
    ("text", "kind", "inside"),
    [
        ("22 degC", "temperature", 22.0),
        ("71.6 degF", "temperature", 22.0),
        ("22 °C", "temperature", 22.0),
        ("71.6 °F", "temperature", 22.0),
        ("295.15 K", "temperature", 22.0),
        ("-40 degF", "temperature", -40.0),
        ("−40 degF", "temperature", -40.0),
        ("3 K", "temperature_difference", 3.0),
        ("3 degC", "temperature_difference", 3.0),
        ("3 °C", "temperature_difference", 3.0),
        ("3 celsius", "temperature_difference", 3.0),
        ("3 degree_Celsius", "temperature_difference", 3.0),
        ("3 delta_degC", "temperature_difference", 3.0),
        ("9 degF", "temperature_difference", 5.0),
        ("9 fahrenheit", "temperature_difference", 5.0),
        ("9 delta_degF", "temperature_difference", 5.0),
        ("9 degF/min", "heating_rate", 5.0),
        ("5 degC/min", "heating_rate", 5.0),
        ("300 K/hour", "heating_rate", 5.0),
        ("100 ft/min", "velocity", 0.508),
        ("100 fpm", "velocity", 0.508),
        ("30 gallon/min", "liquid_flow", 113.56235352),
        ("30 gpm", "liquid_flow", 113.56235352),
        ("1000 ft^3/min", "flow", 0.3048**3 * 1000 / 60),
        ("1000 cfm", "flow", 0.3048**3 * 1000 / 60),
        ("0.05 inH2O", "pressure", 0.05 * 249.08891),
        ("0.05 in. w.g.", "pressure", 0.05 * 249.08891),
        ("1 kPa", "pressure", 1000.0),
        ("60 percent", "humidity", 60.0),
        ("60 %", "humidity", 60.0),
        ("60%", "humidity", 60.0),
        ("2 mil", "film", 50.8),
        ("2 thou", "film", 50.8),
        ("62 um", "film", 62.0),
        ("20 min", "duration", 1200.0),
        ("1.5 h", "duration", 5400.0),
        ("850 ft", "length", 259.08),
        ("4", "volumes", 4.0),
        (4, "volumes", 4.0),
        (4.5, "volumes", 4.5),
    ],
)
def test_read_as_defined(text: object, kind: str, inside: float) -> None:
    assert parse(text, kind) == pytest.approx(inside, rel=1e-12, abs=1e-12)


def test_five_fahrenheit_degrees_of_margin_are_less_than_three_kelvin() -> None:
    case = published("dpm-5F-vs-3C")
    margin_k = parse(f"{case['inputs']['dF']} degF", "temperature_difference")
    assert margin_k == pytest.approx(case["expected"], abs=case["tolerance"])
    assert margin_k < parse("3 K", "temperature_difference")


def test_the_inch_of_water_is_the_one_at_4_degrees() -> None:
    case = published("fil-inwg")
    at_4_c = case["expected"][0]
    assert parse("1 inH2O", "pressure") == pytest.approx(at_4_c, abs=case["tolerance"])
    assert parse("1 inwg", "pressure") == parse("1 in_wg", "pressure") == parse("1 inH2O", "pressure")


def test_a_reading_is_scaled_by_the_same_factors() -> None:
    factor, offset = affine("degF", "temperature")
    assert 212 * factor + offset == pytest.approx(100, abs=1e-9)
    assert affine("K", "temperature_difference") == (1.0, 0.0)


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("22", "temperature", "'22' is not a temperature with its unit; write for example '22 degC'"),
        (22, "temperature", "22 is not a temperature with its unit; write for example '22 degC'"),
        (True, "volumes", "True is not a number of volumes; write for example '4'"),
        (None, "duration", "None is not a duration with its unit; write for example '20 min'"),
        ("nan degC", "temperature", "'nan degC' is not a temperature with its unit; write for example '22 degC'"),
        ("inf Pa", "pressure", "'inf Pa' is not a pressure with its unit; write for example '10 Pa'"),
        (math.nan, "volumes", "nan is not a number of volumes; write for example '4'"),
        (math.inf, "volumes", "inf is not a number of volumes; write for example '4'"),
        ("1e400 m/s", "velocity", "'1e400 m/s' is not a velocity with its unit; write for example '0.5 m/s'"),
        ("0,5 m/s", "velocity", "'0,5 m/s' is not a velocity with its unit; write for example '0.5 m/s'"),
        ("", "humidity", "'' is not a humidity with its unit; write for example '60 percent'"),
        (
            "3 delta_degC",
            "temperature",
            "'delta_degC' is a temperature difference, not a temperature; write for example '22 degC'",
        ),
        (
            "3 delta_degF",
            "temperature",
            "'delta_degF' is a temperature difference, not a temperature; write for example '22 degC'",
        ),
        ("3 m/s", "pressure", "'m/s' is not a unit of a pressure; write for example '10 Pa'"),
        ("3 furlong/moon", "velocity", "'furlong/moon' is not a unit of a velocity; write for example '0.5 m/s'"),
        ("1 h 30 min", "duration", "'h 30 min' is not a unit of a duration; write for example '20 min'"),
        ("3 um; 4", "film", "'um; 4' is not a unit of a film thickness; write for example '60 um'"),
        ("3 %/s", "moisture", "'percent/s' is not a unit of a moisture content; write for example '12 percent'"),
    ],
)
def test_refused_with_what_to_write(text: object, kind: str, expected: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(text, kind)
    assert str(caught.value) == expected


def test_an_error_carries_its_parts() -> None:
    error = UnitError("'22' is no temperature", "22 degC")
    assert (error.expected, error.example) == ("'22' is no temperature", "22 degC")


@pytest.mark.parametrize("kind", KINDS.values(), ids=list(KINDS))
def test_every_example_and_every_unit_shown_can_be_read(kind) -> None:
    parse(kind.example, kind.name)
    assert affine(kind.inside, kind.name) == (1.0, 0.0)
    affine(kind.us, kind.name)


@pytest.mark.parametrize(
    ("value", "kind", "metric", "us"),
    [
        (22.0, "temperature", "22.0 °C", "71.6 °F"),
        (-5.0, "temperature", "−5.0 °C", "23.0 °F"),
        (3.0, "temperature_difference", "3.0 K", "5.4 °F difference"),
        (5.0, "heating_rate", "5.0 K/min", "9.0 °F/min"),
        (0.508, "velocity", "0.51 m/s", "100 ft/min"),
        (-5.0, "pressure", "−5.0 Pa", "−0.020 in. w.g."),
        (113.56235352, "liquid_flow", "113.6 L/min", "30.0 US gal/min"),
        (50.8, "film", "51 µm", "2.0 mil"),
        (60.0, "humidity", "60 %", "60 %"),
        (725.0, "duration", "12 min 05 s", "12 min 05 s"),
        (1.0, "number", "1", "1"),
    ],
)
def test_shown_to_people(value: float, kind: str, metric: str, us: str) -> None:
    assert show(value, kind) == metric
    assert show_us(value, kind) == us
    assert show_both(value, kind) == (metric if metric == us else f"{metric} ({us})")


@given(st.floats(-200, 2000, allow_nan=False), st.sampled_from(["degC", "degF", "K"]))
def test_a_difference_is_proportional_and_a_temperature_is_not(value: float, unit: str) -> None:
    """Twice the text is twice the difference, whatever its unit: no offset ever slips in."""
    assert parse(f"{2 * value!r} {unit}", "temperature_difference") == pytest.approx(
        2 * parse(f"{value!r} {unit}", "temperature_difference"), rel=1e-12, abs=1e-12
    )


@pytest.mark.parametrize("fahrenheit", range(-40, 401, 9))
def test_every_ninth_degree_fahrenheit_is_a_whole_degree_celsius(fahrenheit: int) -> None:
    """−40 °F is −40 °C and 9 °F are 5 °C (definition); a last digit's rounding must not turn a limit into another one."""
    assert parse(f"{fahrenheit} degF", "temperature") == -40 + (fahrenheit + 40) * 5 // 9


def test_a_cache_of_an_environment_that_is_gone_does_no_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    """pint keeps its definitions in the user's folder by content, with the path of the environment that wrote them first."""
    whole = pint.UnitRegistry

    def moved(cache_folder: str | None = None, **known: str) -> pint.UnitRegistry:
        if cache_folder is not None:
            raise FileNotFoundError("constants_en.txt")
        return whole(**known)

    monkeypatch.setattr(pint, "UnitRegistry", moved)
    fresh = registry.__wrapped__()
    assert fresh.Quantity(1, "inH2O").to("pascal").magnitude == pytest.approx(249.08891)
