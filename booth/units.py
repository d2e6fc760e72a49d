"""Quantities with units, read and shown at the edges; plain floats in one unit per kind inside.

A temperature and a temperature *difference* are two kinds, because pint compares "a difference of 3 K" with "2 degC" as if that
were 275 K and says nothing. The caller states the kind, so the same text `5 degF` is read as a temperature by one key and as
2.78 K by another, and never guessed. pint is imported on first use: `booth --help` must not pay for it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache


class UnitError(ValueError):
    """A text that is not a quantity of the kind asked for: what was expected, and an example of what to write."""

    def __init__(self, expected: str, example: str) -> None:
        self.expected, self.example = expected, example
        super().__init__(f"{expected}; write for example {example!r}")


@dataclass(frozen=True)
class Kind:
    """One kind of quantity: the unit used inside, how people read it, and an example to write."""

    name: str
    inside: str  # pint's name of the unit used inside
    symbol: str
    us: str  # pint's name of the unit shown to US readers
    us_symbol: str
    digits: int
    example: str
    difference: bool = False


KINDS = {
    kind.name: kind
    for kind in (
        Kind("temperature", "degC", "°C", "degF", "°F", 1, "22 degC"),
        Kind("temperature_difference", "K", "K", "delta_degF", "°F difference", 1, "3 K", difference=True),
        Kind("heating_rate", "K/min", "K/min", "delta_degF/min", "°F/min", 1, "3 K/min", difference=True),
        Kind("humidity", "percent", "%", "percent", "%", 0, "60 percent"),
        Kind("velocity", "m/s", "m/s", "ft/min", "ft/min", 2, "0.5 m/s"),
        Kind("pressure", "Pa", "Pa", "inH2O", "in. w.g.", 1, "10 Pa"),
        Kind("flow", "m^3/s", "m³/s", "ft^3/min", "ft³/min", 2, "15 m^3/s"),
        Kind("liquid_flow", "L/min", "L/min", "gallon/min", "US gal/min", 1, "30 gallon/min"),
        Kind("volume", "m^3", "m³", "ft^3", "ft³", 1, "180 m^3"),
        Kind("volumes", "dimensionless", "volumes", "dimensionless", "volumes", 1, "4"),
        Kind("duration", "s", "s", "min", "min", 0, "20 min"),
        Kind("length", "m", "m", "ft", "ft", 0, "260 m"),
        Kind("vapour_volume", "m^3/L", "m³/L", "ft^3/gallon", "ft³/US gal", 3, "30.4 ft^3/gallon"),
        Kind("density", "kg/L", "kg/L", "lb/gallon", "lb/US gal", 3, "1.2 kg/L"),
        Kind("area", "m^2", "m²", "ft^2", "ft²", 1, "24 m^2"),
        Kind("liquid_volume", "L", "L", "gallon", "US gal", 2, "1.5 L"),
        Kind("film", "um", "µm", "thou", "mil", 0, "60 um"),
        Kind("moisture", "percent", "%", "percent", "%", 1, "12 percent"),
        Kind("number", "dimensionless", "", "dimensionless", "", 0, "1"),
    )
}


@cache
def registry():
    """The one pint registry."""
    import pint

    try:
        ureg = pint.UnitRegistry(cache_folder=":auto:", on_redefinition="ignore")
    except FileNotFoundError:  # the cache remembers files of an environment that has been moved or deleted since
        ureg = pint.UnitRegistry(on_redefinition="ignore")
    ureg.define("inH2O = 249.08891 * pascal = inwg = in_wg")  # water at 4 °C: the convention that documents state
    return ureg


TRADE_UNITS = {
    "in. w.g.": "inH2O",
    "mil": "thou",
    "mils": "thou",
    "fpm": "ft/min",
    "cfm": "ft^3/min",
    "gpm": "gallon/min",
    "US gal/min": "gallon/min",
}
"""Units as the trade writes them, where pint knows another name, or another unit by that name."""

_OFFSET_UNIT = re.compile(r"(?<!delta_)degree_(?=Celsius|Fahrenheit|Reaumur)")


@cache
def affine(unit: str, kind_name: str) -> tuple[float, float]:
    """(factor, offset) with inside = sent * factor + offset, for a unit of this kind. Raises UnitError."""
    kind = KINDS[kind_name]
    ureg = registry()
    try:
        parsed = ureg.parse_units(TRADE_UNITS.get(unit, unit))
        if kind.difference:  # `degF` where a difference is due means Fahrenheit degrees of difference, however it is spelt
            parsed = ureg.parse_units(_OFFSET_UNIT.sub("delta_degree_", str(parsed)))
        zero = ureg.Quantity(0.0, parsed).to(kind.inside).magnitude
        one = ureg.Quantity(1.0, parsed).to(kind.inside).magnitude
    except Exception:  # pint raises many types, all meaning: not this
        wrong = "is a temperature difference, not" if not kind.difference and "delta_" in unit else "is not a unit of"
        raise UnitError(f"{unit!r} {wrong} {_plain(kind)}", kind.example) from None
    factor = float(f"{one - zero:.15g}")  # 1 K arrives as 274.15 − 273.15: shed the last rounding
    return factor, float(zero)


def parse(text: object, kind_name: str) -> float:
    """The quantity in the unit used inside. Raises UnitError naming the text, what was expected, and an example."""
    kind = KINDS[kind_name]
    number, unit = _split(text, kind)
    return converted(number, *affine(unit, kind_name))


def converted(number: float, factor: float, offset: float) -> float:
    """A number in the unit used inside. Where a scale has an offset, to nine decimals: 86 °F and 30 °C are one temperature."""
    value = number * factor + offset
    return round(value, 9) if offset else value


def _split(text: object, kind: Kind) -> tuple[float, str]:
    """A number and its unit; a kind without a unit may also be written as a bare number."""
    bare = kind.inside == "dimensionless"
    wrong = UnitError(f"{text!r} is not {_plain(kind)}{'' if bare else ' with its unit'}", kind.example)
    if bare and isinstance(text, (int, float)) and not isinstance(text, bool):
        text = repr(text)
    if not isinstance(text, str):
        raise wrong
    number, _, unit = text.strip().replace("−", "-").partition(" ")
    if number.endswith("%"):
        number, unit = number[:-1], "percent"
    unit = unit.strip().replace("%", "percent").replace("°", "deg")
    try:
        value = float(number)
    except ValueError:
        raise wrong from None
    if not math.isfinite(value) or (not unit and not bare):
        raise wrong
    return value, unit or "dimensionless"


_WORDS = {"volumes": "a number of volumes", "film": "a film thickness", "moisture": "a moisture content"}


def _plain(kind: Kind) -> str:
    return _WORDS.get(kind.name, f"a {kind.name.replace('_', ' ')}")


def show(value: float, kind_name: str, digits: int | None = None) -> str:
    """A value for people in the metric unit: `21.4 °C`."""
    kind = KINDS[kind_name]
    if kind.name == "duration":
        from booth.times import SECOND, duration_text

        return duration_text(round(value * SECOND))
    number = f"{value:.{kind.digits if digits is None else digits}f}".replace("-", "−")
    return f"{number} {kind.symbol}".rstrip()


def show_us(value: float, kind_name: str) -> str:
    """The same value in the US customary unit: `70.5 °F`."""
    kind = KINDS[kind_name]
    if kind.name == "duration":
        return show(value, kind_name)
    factor, offset = affine(kind.us, kind_name)
    converted = (value - offset) / factor
    digits = {"ft/min": 0, "ft^3/min": 0, "inH2O": 3, "ft^3": 0, "thou": 1}.get(kind.us, kind.digits)
    return f"{converted:.{digits}f}".replace("-", "−") + f" {kind.us_symbol}".rstrip()


def show_both(value: float, kind_name: str) -> str:
    """Metric with US in brackets: `20.0 °C (68.0 °F)`; once where both systems write the same."""
    metric, us = show(value, kind_name), show_us(value, kind_name)
    return metric if metric == us else f"{metric} ({us})"
