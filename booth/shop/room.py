"""A booth: a room with air of its own, its points, and the limits that the booth itself sets."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, Strict, ValidationInfo, field_validator, model_validator

from booth.shop.limits import Range
from booth.shop.measures import DERIVED_FROM, JUDGED_MODES, LIMITED
from booth.shop.model import Model
from booth.shop.point import Point
from booth.shop.problems import expected, instead_of
from booth.shop.quantities import (
    Identifier,
    LiquidFlow,
    Name,
    PositiveDuration,
    Temperature,
    Velocity,
    Volume,
    read_quantity,
)
from booth.shop.ventilation import Ventilation


class Bound(Model):
    """What a booth's limit is put on, and when. Read before the range, whose ends have the measure's own unit."""

    measure: Literal[tuple(LIMITED)] = Field(examples=['"air_velocity"'])
    modes: tuple[Literal[JUDGED_MODES], ...] = Field(min_length=1, examples=['["spray"]'])


class BoothLimit(Range, Bound):  # pydantic reads the fields of the last base first
    """A limit that the booth sets, bound to the modes in which it means something."""

    @field_validator("minimum", "maximum", mode="before")
    @classmethod
    def _in_the_unit_of_the_measure(cls, value: object, info: ValidationInfo) -> object:
        measure = info.data.get("measure")
        return read_quantity(value, LIMITED[measure]) if measure else None

    @model_validator(mode="after")
    def _can_be_judged_then(self) -> BoothLimit:
        if "bake" in self.modes and "relative_humidity" in DERIVED_FROM[self.measure]:
            raise expected(
                f"{self.measure} isn't judged in bake, where no humidity probe can be believed", '["spray"]', at="modes"
            )
        return self


class Hazard(Model):
    """Spraying with less air than this is a hazard at once."""

    minimum_velocity: Velocity
    spraying_flow: LiquidFlow = Field(examples=['"60 L/min"'])
    what_to_do: Name = Field(examples=['"Stop spraying and leave the booth."'])


class Inference(Model):
    """How a coat is told from a blow-gun when nobody pressed a button."""

    shortest_coat: PositiveDuration = Field(examples=['"90 s"'])
    longest_pause: PositiveDuration = Field(examples=['"3 min"'])


class Heat(Model):
    """How a bake is told by its heat while the booth's mode is silent."""

    rises_above: Temperature = Field(examples=['"45 degC"'])
    falls_below: Temperature = Field(examples=['"40 degC"'])
    air_moving: Velocity | None = Field(default=None, examples=['"0.10 m/s"'])
    known_within: PositiveDuration = Field(examples=['"2 min"'])

    @model_validator(mode="after")
    def _falls_below_what_it_rose_above(self) -> Heat:
        if self.falls_below >= self.rises_above:
            raise expected("falls_below must be below rises_above", "the lower temperature", at="falls_below")
        return self


class Clearance(Model):
    """How long the fan must run after the last spraying, as measured with smoke in this booth; it is never reckoned."""

    time: PositiveDuration = Field(examples=['"12 min"'])
    smoke_test: Annotated[dt.date, Strict()] = Field(examples=["2026-03-02"])


def _point_name(name: str) -> str:
    if name in ("event", "alarm", "beacon"):
        raise expected(f"{name!r} is a topic of every booth and can't name a point", '"air-temperature"')
    return name


PointName = Annotated[Identifier, AfterValidator(_point_name)]


class Booth(Model):
    """One booth; the name of its file is its id."""

    name: Name = Field(examples=['"North booth"'])
    kind: Literal["spray", "spray-and-bake", "oven", "mask-room", "mix-room"] = Field(examples=['"spray-and-bake"'])
    volume: Volume | None = None
    mode_point: str | None = Field(default=None, examples=['"mode"'])
    limits: tuple[BoothLimit, ...] = ()
    hazard: Hazard | None = None
    inference: Inference | None = None
    heat: Heat | None = None
    clearance: Clearance | None = None
    ventilation: Ventilation | None = None
    points: dict[PointName, Point] = Field(min_length=1)

    @model_validator(mode="after")
    def _mode_point_exists(self) -> Booth:
        if self.kind in ("spray", "spray-and-bake", "oven") and self.mode_point is None:
            raise expected("a booth that sprays or bakes names the point that tells its mode", '"mode"', at="mode_point")
        if self.mode_point is not None and self.mode_point not in self.measuring("mode"):
            message = f"{self.mode_point!r} is not a point of this booth that measures mode"
            raise expected(message, '"mode"', at="mode_point")
        return self

    @model_validator(mode="after")
    def _everything_asked_is_measured(self) -> Booth:
        for limit in self.limits:
            self._need(f"a limit on {limit.measure}", *DERIVED_FROM[limit.measure])
        if self.hazard is not None:
            self._need("a hazard", "air_velocity", "gun_flow")
        if self.inference is not None:
            self._need("inference", "gun_flow")
        if self.heat is not None:
            self._need("heat", *([] if self.measuring("part_temperature") else ["air_temperature"]))
            self._need("air_moving", *([] if self.heat.air_moving is None else ["air_velocity"]))
        if self.clearance is not None and self.hazard is None:
            raise expected("a clearance time counts from the guns and by the fan, which a hazard defines", "a table [hazard]")
        if any(point.operating_to is not None for point in self.points.values()):
            self._need("operating_to", "air_temperature")
        return self

    @model_validator(mode="after")
    def _partners_can_be_compared(self) -> Booth:
        for name, point in self.points.items():
            partner = point.health.partner
            if partner is None:
                continue
            at, others = f"points.{name}.health.partner", [one for one in self.measuring(point.measure) if one != name]
            if partner not in others:
                write = instead_of(partner, others) if others else f"another point that measures {point.measure}"
                raise expected(f"{partner!r} is not another point of this booth that measures {point.measure}", write, at=at)
            if point.uncertainty() is None or self.points[partner].uncertainty() is None:
                raise expected(
                    "two probes are compared by their uncertainties, and one of these two states none",
                    'expanded_uncertainty = "0.4 K" for both',
                    at=at,
                )
        return self

    @model_validator(mode="after")
    def _stuck_modes_are_told(self) -> Booth:
        asked = [name for name, point in self.points.items() if point.health.stuck_modes is not None]
        if asked and self.mode_point is None:
            at = f"points.{asked[0]}.health.stuck_modes"
            raise expected("stuck_modes needs a booth that tells its mode", 'mode_point = "mode"', at=at)
        return self

    def _need(self, what: str, *measures: str) -> None:
        for measure in measures:
            if not self.measuring(measure):
                write = f'a table [points.…] with measure = "{measure}"'
                raise expected(f"{what} needs a point that measures {measure}", write, at="points")

    @model_validator(mode="after")
    def _ventilation_points_measure_what_is_asked(self) -> Booth:
        told = self.ventilation or Ventilation()
        for key, point, measure in told.points():
            if point is not None and point not in self.measuring(measure):
                known = " or ".join(f'"{name}"' for name in self.measuring(measure)) or f'a point with measure = "{measure}"'
                raise expected(f"{point!r} is not a point of this booth that measures {measure}", known, at=f"ventilation.{key}")
        return self

    @model_validator(mode="after")
    def _one_limit_a_measure_and_mode(self) -> Booth:
        bound = [(limit.measure, mode) for limit in self.limits for mode in limit.modes]
        for measure, mode in bound:
            if bound.count((measure, mode)) > 1:
                raise expected(f"{measure} in mode {mode} has two limits", "one of the two", at="limits")
        return self

    def measuring(self, measure: str) -> list[str]:
        """Names of the points that measure this, in the order of the file."""
        return [name for name, point in self.points.items() if point.measure == measure]
