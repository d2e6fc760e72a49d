"""What a booth's ventilation log needs beside its limits: filters, flows, interlock, permit, how often care is due."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from booth.shop.care_shapes import DUE_AGAIN
from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Identifier, Name, PositiveDuration, Source, quantity

Pressure = quantity("pressure", positive=True)


class Filter(Model):
    """One bank of filters. `paper` is where its tested efficiency stands: the log names it, nobody reckons it from a drop."""

    side: Literal["intake", "exhaust"] = Field(examples=['"exhaust"'])
    point: Name | None = Field(default=None, examples=['"filter-drop"'])
    change_out: Pressure | None = Field(default=None, examples=['"250 Pa"'])
    paper: Name | None = Field(default=None, examples=['"capture test report 2025-11, EHS folder 4"'])
    source: Source


class Every(Model):
    """How often a kind of care is due."""

    every: PositiveDuration = Field(examples=['"30 days"'])
    source: Source


class Ventilation(Model):
    """The booth's keys for its ventilation log."""

    permit: Name | None = Field(default=None, examples=['"air permit 12-345, condition 4"'])
    intake_flow: Name | None = Field(default=None, examples=['"make-up-flow"'])
    exhaust_flow: Name | None = Field(default=None, examples=['"exhaust-flow"'])
    interlock_point: Name | None = Field(default=None, examples=['"fan-interlock"'])
    filters: dict[Identifier, Filter] = Field(
        default={}, examples=['{ exhaust = { side = "exhaust", source = "filter sheet p. 2" } }']
    )
    care: dict[Literal[DUE_AGAIN], Every] = Field(
        default={}, examples=['{ booth-examined = { every = "1 year", source = "shop rule" } }']
    )

    @model_validator(mode="after")
    def _a_flow_on_each_side(self) -> Ventilation:
        if self.intake_flow is not None and self.intake_flow == self.exhaust_flow:
            raise expected("one point can't measure intake and exhaust at once", "the other of the two points", at="exhaust_flow")
        return self

    def points(self) -> list[tuple[str, str | None, str]]:
        """Every point that is named here: (key, point or None, the measure that it must have)."""
        named = [(f"filters.{name}.point", one.point, "filter_pressure_drop") for name, one in self.filters.items()]
        flows = [("intake_flow", self.intake_flow, "air_flow"), ("exhaust_flow", self.exhaust_flow, "air_flow")]
        return [*named, *flows, ("interlock_point", self.interlock_point, "fan_interlock")]
