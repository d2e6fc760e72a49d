"""Values inside events: texts that are checked and stay as they were sent."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from pydantic import AfterValidator

from booth.shop.problems import expected
from booth.shop.quantities import read_quantity
from booth.times import TimeError, parse_time
from booth.units import KINDS


def _is_time(value: str) -> str:
    try:
        parse_time(value)
    except TimeError as error:
        raise expected(str(error).split("; write")[0], "2026-03-02T08:14:05.250Z") from None
    return value


def _is_uuid(value: str) -> str:
    try:
        return str(UUID(value))
    except ValueError:
        raise expected(f"{value!r} is not the id (a UUID) of an event", "6f1c1e0e-5d0a-4c56-8a6f-6a1f0d0b7c11") from None


def amount(kind: str, *, zero: bool = True) -> Any:
    """The type of a text that is a quantity of this kind, never negative, and more than nothing unless `zero`."""

    def check(value: str) -> str:
        number = read_quantity(value, kind)
        if number < 0 or (number == 0 and not zero):
            least = "nothing or more" if zero else "more than nothing"
            raise expected(f"expected {least}, found {value!r}", KINDS[kind].example)
        return value

    return Annotated[str, AfterValidator(check)]


Moment = Annotated[str, AfterValidator(_is_time)]
Identity = Annotated[str, AfterValidator(_is_uuid)]
