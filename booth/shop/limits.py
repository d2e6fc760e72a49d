"""Limits as the files state them: a range, or a time that is fixed or tabulated over temperature, each with its source."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field, create_model, model_validator

from booth.shop.measures import LIMITED
from booth.shop.model import Model, example_of, keys_of
from booth.shop.problems import expected
from booth.shop.quantities import Duration, Flag, PositiveDuration, Share, Source, Temperature, TemperatureDifference, quantity
from booth.units import KINDS

TABLE_EXAMPLE = '[["20 degC", "20 min"], ["30 degC", "12 min"]]'


class Range(Model):
    """A quantity that must stay between two values while a step lasts; the kind's own subclass gives both their type."""

    minimum: float | None = Field(default=None, examples=['"0.40 m/s"'])
    maximum: float | None = Field(default=None, examples=['"0.60 m/s"'])
    grace: Duration = Field(default=60_000_000, examples=['"60 s"'])
    coverage: Share | None = Field(default=None, examples=["0.95"])
    largest_gap: PositiveDuration | None = Field(default=None, examples=['"60 s"'])
    source: Source

    @classmethod
    def example(cls) -> str:
        keys = [(key, field) for key, field in keys_of(cls).items() if key == "minimum" or field.is_required()]
        return f"{{ {', '.join(f'{key} = {example_of(field)}' for key, field in keys)} }}"

    @model_validator(mode="after")
    def _ordered(self) -> Range:
        if self.minimum is None and self.maximum is None:
            raise expected("a limit needs a minimum, a maximum, or both", self.example())
        if self.minimum is not None and self.maximum is not None and self.minimum >= self.maximum:
            raise expected("the minimum must be below the maximum", "the smaller of the two as minimum", at="minimum")
        return self


class MarginRange(Range):
    """A dew-point margin: what the sheet says of the surface that it is taken from."""

    evaporative_allowance: TemperatureDifference = Field(default=0.0, ge=0, examples=['"1 K"'])
    surface_from_air: Flag = False


def _range_of(measure: str) -> type[Range]:
    """A Range whose minimum and maximum are quantities of this measure's kind."""
    kind = LIMITED[measure]
    optional = (quantity(kind) | None, Field(default=None, examples=[f'"{KINDS[kind].example}"']))
    base = MarginRange if measure == "dew_point_margin" else Range
    return create_model(f"{measure.title().replace('_', '')}Range", __base__=base, minimum=optional, maximum=optional)


Climate = create_model(
    "Climate",
    __base__=Model,
    __doc__="Climate limits of a coating while it is wet: one optional range for each measure.",
    **{measure: (_range_of(measure) | None, None) for measure in LIMITED},
)


class TimeLimit(Model):
    """A time that is fixed, or tabulated over the temperature that drives it."""

    fewest_rows: ClassVar[int] = 2
    drivers: ClassVar[tuple[str, ...]] = ("part", "air")

    time: PositiveDuration | None = None
    table: tuple[tuple[Temperature, PositiveDuration], ...] | None = Field(default=None, examples=[TABLE_EXAMPLE])
    driven_by: Literal["part", "air", "pot"] | None = Field(default=None, examples=['"part"'])
    source: Source

    @classmethod
    def example(cls) -> str:
        return '{ time = "20 min", source = "sheet p. 3" }'

    @model_validator(mode="after")
    def _fixed_or_tabulated(self) -> TimeLimit:
        if (self.time is None) == (self.table is None):
            raise expected("either a fixed time or a table, not both and not neither", 'time = "20 min"')
        if self.table is None and self.driven_by:
            raise expected("driven_by goes with a table; a fixed time has no temperature credit", f"table = {TABLE_EXAMPLE}")
        if self.table is not None and self.driven_by is None:
            raise expected("a table says which temperature drives it", f'driven_by = "{self.drivers[0]}"')
        if self.driven_by and self.driven_by not in self.drivers:
            raise expected(f"{self.driven_by!r} can't drive this time", f'driven_by = "{self.drivers[0]}"')
        return self

    @model_validator(mode="after")
    def _table_runs_one_way(self) -> TimeLimit:
        temperatures, times = zip(*self.table, strict=True) if self.table else ((), ())
        if self.table is not None and len(self.table) < self.fewest_rows:
            rows = "one row" if self.fewest_rows == 1 else "two rows"
            raise expected(f"a table needs {rows} or more", TABLE_EXAMPLE)
        if list(temperatures) != sorted(set(temperatures)):
            raise expected("the temperatures of a table rise from row to row", TABLE_EXAMPLE)
        if list(times) != sorted(times, reverse=True):
            raise expected("the times of a table can't rise with the temperature", TABLE_EXAMPLE)
        return self


class PotLimit(TimeLimit):
    """A time of the mixed paint, by the temperature of its pot."""

    drivers: ClassVar[tuple[str, ...]] = ("pot", "air")


class DwellLimit(TimeLimit):
    """Time at temperature. One row says: so long at this temperature, no credit for a hotter part."""

    fewest_rows: ClassVar[int] = 1

    @classmethod
    def example(cls) -> str:
        return '{ table = [["60 degC", "30 min"]], driven_by = "part", source = "sheet p. 5" }'

    @model_validator(mode="after")
    def _at_a_temperature(self) -> DwellLimit:
        if self.table is None:
            raise expected("a dwell says at which temperature its time counts", 'table = [["60 degC", "30 min"]]')
        return self


class WaitLimit(TimeLimit):
    """A wait after the bake: nobody measures the part any more, so its time is fixed."""

    @model_validator(mode="after")
    def _fixed(self) -> WaitLimit:
        if self.time is None:
            raise expected("a wait after the bake is a fixed time, since nothing measures the part any more", 'time = "20 min"')
        return self


class Rule(Model):
    """What the sheet says happens to the clock while conditions are out of limits."""

    rule: Literal["pause", "restart", "go_on"] = Field(examples=['"pause"'])
    source: Source
