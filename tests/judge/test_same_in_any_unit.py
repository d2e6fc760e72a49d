"""The same limits and readings in other units give the same verdicts: a shop that thinks in Fahrenheit, inches and hours.

Conversions are the definitions: degF = 1.8 degC + 32, a difference of 1 K is 1.8 degF, 1 ft = 0.3048 m, 1 h = 3600 s.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.judge.finding import Finding
from booth.shop.shop import Shop, load_shop, read_files
from booth.units import affine
from tests.judge.made_up import CONFIG, Van, good_van, shop

UNITS = {
    "degC": lambda text: f"{float(text) * 1.8 + 32!r} degF",
    "K/min": lambda text: f"{float(text) * 1.8!r} delta_degF/min",
    "K": lambda text: f"{float(text) * 1.8!r} delta_degF",
    "m/s": lambda text: f"{float(text) / 0.3048 * 60!r} ft/min",
    "m^3": lambda text: f"{float(text) / 0.3048**3!r} ft^3",
    "Pa": lambda text: f"{float(text) / 249.08891!r} inH2O",
    "min": lambda text: f"{float(text) * 60!r} s",
    "h": lambda text: f"{float(text) * 60!r} min",
}
QUANTITY = re.compile(rf'"(-?\d+(?:\.\d+)?) ({"|".join(re.escape(unit) for unit in UNITS)})"')


def converted(text: str) -> str:
    return QUANTITY.sub(lambda found: f'"{UNITS[found[2]](found[1])}"', text)


def another_shop() -> Shop:
    """Every limit of every sheet, process and booth in the other units; what the points send stays as it is."""
    files = read_files(CONFIG)
    return load_shop({name: converted(text) if name.startswith(("coatings", "booths")) else text for name, text in files.items()})


def findings(van: Van) -> list[Finding]:
    return [one for round_ in van.assessment().rounds for one in round_.findings]


def test_the_files_are_really_in_other_units() -> None:
    files = read_files(CONFIG)
    text = converted(files["coatings/two-pack-clear.toml"])
    assert "degC" not in re.sub(r"#.*", "", text) and "68.0 degF" in text
    assert sum(len(QUANTITY.findall(one)) for one in files.values()) > 60


def spoilt(van: Van) -> Van:
    """Something beyond its limits, and a gap, so that not everything is met."""
    van.reads("part-2", 13.5, 45, 50)
    van.reads("air-temperature", 34.0, 72, 76)
    van.silent("humidity", 96, 104)
    return van


@pytest.mark.parametrize("spoil", [False, True])
def test_a_van_is_judged_alike(spoil: bool) -> None:
    here, there = (spoilt(van) if spoil else van for van in (good_van(shop()), good_van(another_shop())))
    one, other = findings(here), findings(there)
    assert [(each.requirement, each.verdict) for each in one] == [(each.requirement, each.verdict) for each in other]
    assert len(one) > 60 and (len({each.verdict for each in one}) > 1) == spoil
    for left, right in zip(one, other, strict=True):
        assert left.sentence == right.sentence
        for name in ("observed", "low", "high", "margin", "uncertainty"):
            a, b = getattr(left, name), getattr(right, name)
            assert (a is None) == (b is None) and (a is None or a == pytest.approx(b, rel=1e-9, abs=1e-9)), (
                left.requirement,
                name,
            )


SENT = [("temperature", "degF", 1.8, 32.0), ("velocity", "ft/min", 60 / 0.3048, 0.0), ("pressure", "inH2O", 1 / 249.08891, 0.0),
        ("flow", "ft^3/min", 60 / 0.3048**3, 0.0)]  # fmt: skip


@given(st.sampled_from(SENT), st.floats(-50, 150))
def test_a_reading_in_another_unit_is_the_same_reading(unit: tuple, inside: float) -> None:
    kind, name, factor, offset = unit
    scale, shift = affine(name, kind)
    assert (inside * factor + offset) * scale + shift == pytest.approx(inside, rel=1e-9, abs=1e-9)
