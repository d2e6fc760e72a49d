"""One value as sent -> one reading in the unit used inside, or the reason why not."""

from __future__ import annotations

import math
import re
from functools import lru_cache

from booth.readers.json_text import Number
from booth.readers.points import PointSpec
from booth.readers.received import ReadingIn
from booth.readers.refused import Refused, quoted
from booth.units import KINDS, UnitError, affine, converted

_LONGEST_NUMBER = 64  # characters; no instrument has more digits
# A unit's text goes to a parser that would also compute 9**9**9, so only what can be a unit reaches it.
_POWER = r"(?:(?:\*\*|\^)?-?[1-4])?"
_UNIT = re.compile(rf"(?:[^\W\d]+{_POWER})(?:[ */][^\W\d]+{_POWER}){{0,3}}")


def measure(spec: PointSpec, value: object, unit: object, time: int, arrived: int) -> ReadingIn:
    """A reading out of a JSON value (numbers as `Number`) and its unit, None for the configured one.

    Raises Refused: not_a_number, wrong_unit, out_of_range.
    """
    if spec.words is not None:
        return ReadingIn(spec.point, time, arrived, str(value), "", _place(spec, value), spec.mapping)
    number = _finite(spec, value)
    if unit is None or unit == spec.unit:
        unit, factor, offset = spec.unit, spec.factor, spec.offset
    else:
        factor, offset = _factors(spec, unit)
    inside = converted(number, factor, offset)
    if not (spec.low <= inside <= spec.high and math.isfinite(inside)):
        raise Refused(
            "out_of_range",
            f"{spec.point}: {value} {unit} is outside what the instrument measures, {_range(spec)}; look at the instrument "
            "and its wiring, or set its range in the configuration",
        )
    return ReadingIn(spec.point, time, arrived, str(value), str(unit), inside, spec.mapping)


def _place(spec: PointSpec, value: object) -> float:
    if isinstance(value, Number) or value not in spec.words:
        raise Refused("not_a_number", f"{spec.point}: value {quoted(value)}; expected one of the words {', '.join(spec.words)}")
    return float(spec.words.index(value))


def _finite(spec: PointSpec, value: object) -> float:
    number = float(value) if isinstance(value, Number) and len(value) <= _LONGEST_NUMBER else math.nan
    if not math.isfinite(number):
        hint = "send it without quotes" if isinstance(value, str) and not isinstance(value, Number) else "send nothing for none"
        raise Refused("not_a_number", f"{spec.point}: value {quoted(value)}; expected a finite number such as 21.4: {hint}")
    return number


def _factors(spec: PointSpec, unit: object) -> tuple[float, float]:
    factors = _conversion(unit, spec.kind) if isinstance(unit, str) and len(unit) <= 32 else None
    if factors is None:
        raise Refused(
            "wrong_unit",
            f"{spec.point}: unit {quoted(unit)}; expected {quoted(spec.unit)} or another unit of "
            f"{spec.kind.replace('_', ' ')}: correct the sender, or the point's unit in the configuration",
        )
    return factors


@lru_cache(maxsize=1024)  # bounded: what is sent decides what is cached
def _conversion(unit: str, kind: str) -> tuple[float, float] | None:
    """(factor, offset) from a unit to the one used inside, None where it is no unit of this kind."""
    unit = unit.strip().replace("%", "percent").replace("°", "deg")
    if not _UNIT.fullmatch(unit):
        return None
    try:
        return affine(unit, kind)
    except UnitError:
        return None


def _range(spec: PointSpec) -> str:
    symbol = KINDS[spec.kind].symbol
    return f"{spec.low:g} to {spec.high:g} {symbol}".rstrip()
