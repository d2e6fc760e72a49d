"""A coating as its data sheet describes it: climate, flash-off, pot life, bake and cool-down."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Literal

from pydantic import Field, Strict, model_validator

from booth.shop.content import Content
from booth.shop.limits import Climate, DwellLimit, PotLimit, Rule, TimeLimit, WaitLimit
from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import HeatingRate, Identifier, Name, OrNotStated, PositiveDuration, Source, Temperature


class Sheet(Model):
    """The document that limits with a source "sheet p. N" come from."""

    title: Name = Field(examples=['"Two-pack clear coat, technical data sheet"'])
    revision: Name = Field(examples=['"12"'])
    date: Annotated[dt.date, Strict()] = Field(examples=["2026-02-09"])


class Appearance(Model):
    """A painter's look at the film, required beside the clock."""

    check: Identifier = Field(examples=['"uniformly-matt"'])
    source: Source


class Flash(Model):
    minimum: Annotated[TimeLimit, OrNotStated]
    maximum: Annotated[TimeLimit, OrNotStated]
    out_of_limits: Annotated[Rule, OrNotStated]
    appearance: Appearance | None = None


class PotLife(Model):
    maximum: Annotated[PotLimit, OrNotStated]
    induction: Annotated[PotLimit, OrNotStated]


class BakeStart(Model):
    """When the bake may and must start, counted from the end of the last coat."""

    earliest: PositiveDuration | None = Field(default=None, examples=['"10 min"'])
    latest: PositiveDuration | None = Field(default=None, examples=['"30 min"'])
    source: Source

    @classmethod
    def example(cls) -> str:
        return '{ earliest = "10 min", latest = "30 min", source = "sheet p. 5" }'

    @model_validator(mode="after")
    def _ordered(self) -> BakeStart:
        if self.earliest is None and self.latest is None:
            raise expected("a bake start needs an earliest time, a latest time, or both", 'latest = "30 min"')
        if self.earliest is not None and self.latest is not None and self.earliest >= self.latest:
            raise expected("earliest must be before latest", 'earliest = "10 min", latest = "30 min"')
        return self


class HeatUp(Model):
    to: Temperature = Field(examples=['"60 degC"'])
    within: PositiveDuration = Field(examples=['"35 min"'])
    source: Source


class Peak(Model):
    """The hottest that each kind of surface may become."""

    steel: Temperature | None = Field(default=None, examples=['"90 degC"'])
    fibreglass: Temperature | None = Field(default=None, examples=['"82 degC"'])
    gelcoat: Temperature | None = Field(default=None, examples=['"80 degC"'])
    adhesive: Temperature | None = Field(default=None, examples=['"85 degC"'])
    fitted: Temperature | None = Field(default=None, examples=['"75 degC"'])
    source: Source

    @classmethod
    def example(cls) -> str:
        return '{ steel = "90 degC", fibreglass = "82 degC", source = "sheet p. 5" }'

    @model_validator(mode="after")
    def _names_a_substrate(self) -> Peak:
        if not self.by_substrate():
            raise expected("a peak names the substrates that it holds for", self.example())
        return self

    def by_substrate(self) -> dict[str, float]:
        every = self.model_dump(exclude={"source"})
        return {name: highest for name, highest in every.items() if highest is not None}


class Rate(Model):
    maximum: HeatingRate
    over: PositiveDuration = Field(examples=['"3 min"'])
    source: Source


class OverBake(Model):
    """How long a part may stand at or above a temperature, over all rounds together."""

    at: Temperature = Field(examples=['"60 degC"'])
    maximum: PositiveDuration = Field(examples=['"120 min"'])
    source: Source


class Interruption(Rule):
    """What happens to the dwell when the part falls below a temperature during the bake."""

    below: Temperature = Field(examples=['"60 degC"'])


class Bake(Model):
    start: Annotated[BakeStart, OrNotStated]
    heat_up: Annotated[HeatUp, OrNotStated]
    dwell: Annotated[DwellLimit, OrNotStated]
    peak: Annotated[Peak, OrNotStated]
    heating_rate: Annotated[Rate, OrNotStated]
    over_bake: Annotated[OverBake, OrNotStated]
    interruption: Annotated[Interruption, OrNotStated]


class Below(Model):
    temperature: Temperature = Field(examples=['"40 degC"'])
    source: Source


class Cool(Model):
    """Cool-down after the bake, and how long other work must wait, by the name of its check: de-mask, polish, weather."""

    minimum: Annotated[TimeLimit, OrNotStated]
    below: Annotated[Below, OrNotStated]
    waits: dict[Identifier, WaitLimit] = Field(default={}, examples=['{ de-mask = { time = "20 min", source = "sheet p. 6" } }'])


class Coating(Model):
    """One coating; the name of its file is its id."""

    name: Name = Field(examples=['"Two-pack clear coat"'])
    sheet: Sheet
    components: tuple[Name, ...] = Field(min_length=1, examples=['["resin", "hardener"]'])
    decision_rule: Literal["simple", "guarded"] | None = Field(default=None, examples=['"guarded"'])
    climate: Climate
    flash: Flash | None = None
    pot_life: Annotated[PotLife, OrNotStated]
    bake: Bake | None = None
    cool: Cool | None = None
    content: Content | None = None

    def source(self, text: str) -> str:
        """A source spelled out: "sheet p. 2" becomes the sheet's title, revision and page."""
        title = f"{self.sheet.title}, revision {self.sheet.revision} of {self.sheet.date},"
        return re.sub(r"^sheet\b", lambda _: title, text)
