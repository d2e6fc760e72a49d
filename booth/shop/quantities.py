"""Field types for the configuration: a text with a unit in the file, a plain float in the unit used inside afterwards."""

from __future__ import annotations

from typing import Annotated, Any
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BeforeValidator, Field, Strict, WrapValidator

from booth.shop.problems import expected
from booth.units import KINDS, UnitError, parse, show

COLDEST_C = -100.0
LARGEST_DIFFERENCE_K = 150.0


def read_quantity(value: object, kind: str) -> float:
    """The quantity of a text, in the unit used inside. Raises pydantic's error with what was expected."""
    try:
        number = parse(value, kind)
    except UnitError as error:
        raise expected(error.expected, f'"{error.example}"') from None
    # A kelvin is a temperature to pint and a difference to the trade: what no booth ever has gives the mix-up away.
    if kind == "temperature" and number < COLDEST_C:
        raise expected(f"{value!r} is {show(number, kind)}, which no part or air has; K counts from absolute zero", '"22 degC"')
    if kind == "temperature_difference" and abs(number) > LARGEST_DIFFERENCE_K:
        raise expected(f"{value!r} is no temperature difference but a temperature", '"3 K"')
    return number


def quantity(kind: str, *, positive: bool = False) -> Any:
    """The type of a key that takes a quantity of this kind."""

    def read(value: object) -> float:
        number = read_quantity(value, kind)
        if positive and number <= 0:
            raise expected(f"expected more than nothing, found {value!r}", f'"{KINDS[kind].example}"')
        return number

    return Annotated[float, BeforeValidator(read), Field(examples=[f'"{KINDS[kind].example}"'])]


Temperature = quantity("temperature")
TemperatureDifference = quantity("temperature_difference")
HeatingRate = quantity("heating_rate", positive=True)
Velocity = quantity("velocity", positive=True)
LiquidFlow = quantity("liquid_flow", positive=True)
Volume = quantity("volume", positive=True)
Volumes = quantity("volumes", positive=True)
Length = quantity("length")


def _duration_us(value: object) -> int:
    seconds = read_quantity(value, "duration")
    if seconds < 0:
        raise expected(f"a length of time can't be negative, found {value!r}", '"20 min"')
    return round(seconds * 1_000_000)


def _not_zero(us: int) -> int:
    if us == 0:
        raise expected("a time of nothing is no limit", '"20 min"')
    return us


Duration = Annotated[int, BeforeValidator(_duration_us), Field(examples=['"20 min"'])]
"""Microseconds."""

PositiveDuration = Annotated[int, BeforeValidator(_duration_us), AfterValidator(_not_zero), Field(examples=['"20 min"'])]
"""Microseconds, more than none."""

Flag = Annotated[bool, Strict()]
Count = Annotated[int, Strict()]
Share = Annotated[float, Strict(), Field(gt=0, le=1)]
"""More than 0 and at most 1."""

Name = Annotated[str, Field(min_length=1)]


def _identifier(value: object) -> str:
    plain = isinstance(value, str) and value.isascii() and value.replace("-", "").isalnum()
    if not plain or value != value.lower() or not value[0].isalnum():
        raise expected(f"expected a name of small letters, digits and hyphens, found {value!r}", '"clear-1"')
    return value


Identifier = Annotated[str, BeforeValidator(_identifier), Field(examples=['"clear-1"'])]
"""A name that may stand in a topic, a file name and a command line."""


def _time_zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except Exception:  # zoneinfo raises many types for a name that is none
        raise expected(f"{name!r} is not a time zone", '"America/Chicago", a name of the IANA time zone database') from None
    return name


TimeZone = Annotated[str, AfterValidator(_time_zone), Field(examples=['"America/Chicago"'])]


class NotStated:
    """What a sheet is silent about. The logger never guesses it, and never judges by it."""

    def __repr__(self) -> str:
        return "not_stated"

    def __bool__(self) -> bool:
        return False


NOT_STATED = NotStated()


def _stated(value: object, handler: Any) -> Any:
    if value == "not_stated" or value is NOT_STATED:
        return NOT_STATED
    if not isinstance(value, dict):
        raise expected(f'expected a table with its source, or "not_stated", found {value!r}')
    return handler(value)


OrNotStated = WrapValidator(_stated)
"""`Annotated[SomeLimit, OrNotStated]`: the limit, or NOT_STATED where the file says "not_stated"."""


def _source(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        example = '"sheet p. 2", "maker\'s letter of 2026-02-20" or "shop rule: why"'
        raise expected(f"expected where this limit comes from, found {value!r}", example)
    return value.strip()


Source = Annotated[str, BeforeValidator(_source), Field(examples=['"sheet p. 2"'])]
