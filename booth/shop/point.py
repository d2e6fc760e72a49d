"""A point: one quantity at one place of a booth, with the instrument that measures it and how its faults show."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, field_validator, model_validator

from booth.shop.measures import MEASURES, MODES
from booth.shop.model import Model
from booth.shop.problems import expected, instead_of
from booth.shop.quantities import Duration, Flag, Identifier, Name, PositiveDuration, Share, Temperature
from booth.times import MINUTE
from booth.units import KINDS, UnitError, affine, parse


class Instrument(Model):
    """What measures a point. `expanded_uncertainty` (k = 2) is a difference in the point's own kind."""

    name: Name = Field(examples=['"TH-N"'])
    type: Name = Field(examples=['"combined probe, capacitive humidity"'])
    method: Literal["contact", "infrared"] | None = Field(default=None, examples=['"contact"'])
    emissivity: Share | None = Field(default=None, examples=["0.95"])
    expanded_uncertainty: str | None = Field(default=None, examples=['"0.4 K"'])
    calibrated: Flag = True

    @model_validator(mode="after")
    def _infrared_says_its_emissivity(self) -> Instrument:
        if self.method == "infrared" and self.emissivity is None:
            raise expected("an infrared instrument states the emissivity it is set to", "emissivity = 0.95")
        return self


class Health(Model):
    """How a fault of this point's instrument shows in its readings. What has no default is not looked for until it is set."""

    stale_after: PositiveDuration | None = Field(default=None, examples=['"30 s"'])
    stuck_after: PositiveDuration | None = Field(default=None, examples=['"10 min"'])
    stuck_modes: tuple[Literal[MODES], ...] | None = Field(default=None, min_length=1, examples=['["spray", "flash"]'])
    jump: str | None = Field(default=None, examples=['"5 K"'])
    settle: PositiveDuration | None = Field(default=None, examples=['"30 s"'])
    partner: Identifier | None = Field(default=None, examples=['"air-temperature"'])
    disagree_after: PositiveDuration = Field(default=MINUTE, examples=['"1 min"'])

    @model_validator(mode="after")
    def _modes_of_something(self) -> Health:
        if self.stuck_modes is not None and self.stuck_after is None:
            raise expected("stuck_modes goes with stuck_after: how long a value can't stand still", 'stuck_after = "10 min"')
        return self


class Point(Model):
    """One quantity at one place."""

    measure: str = Field(examples=['"air_temperature"'])
    unit: str = Field(default="", examples=['"degC"'])
    range: tuple[str, str] | None = Field(default=None, examples=['["-20 degC", "120 degC"]'])
    max_age: PositiveDuration = Field(examples=['"15 s"'])
    words: tuple[str, ...] | None = Field(default=None, examples=[str(list(MODES)).replace("'", '"')])
    operating_to: Temperature | None = Field(default=None, examples=['"60 degC"'])
    recovery: Duration = Field(default=0, examples=['"15 min"'])
    instrument: Instrument
    health: Health = Health()

    @field_validator("measure")
    @classmethod
    def _known_measure(cls, value: str) -> str:
        if value not in MEASURES:
            raise expected(f"{value!r} is not a measure", instead_of(value, MEASURES))
        return value

    @property
    def kind(self) -> str:
        return MEASURES[self.measure]

    @classmethod
    def example(cls) -> str:
        keys = 'measure = "air_temperature", unit = "degC", range = ["-20 degC", "60 degC"], max_age = "15 s"'
        return f"{{ {keys}, instrument = {Instrument.example()} }}"

    @model_validator(mode="after")
    def _measure_and_unit_agree(self) -> Point:
        if self.measure == "mode":
            return self._sends_modes()
        if self.words is not None:
            raise expected("only a point that measures mode sends words", "no words here", at="words")
        if self.range is None:
            example = _range_example(self.kind)
            raise expected(f"a point that measures {self.measure} states the range of its instrument", example, at="range")
        try:
            affine(self.unit, self.kind)
            low, high = self.plausible()
        except UnitError as error:
            raise expected(error.expected, f"unit and range in one kind, such as {error.example!r}", at="unit") from None
        if low >= high:
            raise expected("a range runs from low to high", _range_example(self.kind), at="range")
        self.uncertainty()
        self.jump()
        return self

    def _sends_modes(self) -> Point:
        unknown = [word for word in self.words or () if word not in MODES]
        if not self.words or unknown:
            found = ", ".join(map(repr, unknown)) or "none"
            example = type(self).model_fields["words"].examples[0]
            raise expected(f"a mode point lists the words that it sends, out of seven, found {found}", example, at="words")
        if self.range is not None or self.unit:
            raise expected("words have neither unit nor range", "no unit and no range here")
        if self.health.jump is not None or self.health.partner is not None:
            raise expected("words neither jump nor differ by a quantity", "no jump and no partner here", at="health")
        return self

    def plausible(self) -> tuple[float, float]:
        """Lowest and highest value that the instrument can mean, in the unit used inside."""
        low, high = self.range or ("", "")
        return parse(low, self.kind), parse(high, self.kind)

    def uncertainty(self) -> float | None:
        """Expanded uncertainty (k = 2) in the unit used inside, None where the file doesn't state it."""
        value = self._difference(self.instrument.expanded_uncertainty, "instrument.expanded_uncertainty")
        if value is not None and value < 0:
            raise expected("an uncertainty can't be negative", '"0.4 K"', at="instrument.expanded_uncertainty")
        return value

    def jump(self) -> float | None:
        """How far two readings in a row may be apart, in the unit used inside; None where nobody looks for jumps."""
        value = self._difference(self.health.jump, "health.jump")
        if value is not None and value <= 0:
            raise expected("a jump is a difference of more than nothing", '"5 K"', at="health.jump")
        return value

    def _difference(self, text: str | None, at: str) -> float | None:
        """A difference of two values of this point, out of its text."""
        if text is None:
            return None
        try:
            return parse(text, "temperature_difference" if self.kind == "temperature" else self.kind)
        except UnitError as error:
            raise expected(error.expected, f'"{error.example}"', at=at) from None


def _range_example(kind: str) -> str:
    unit = KINDS[kind].example.partition(" ")[2]
    return f'range = ["0 {unit}", "100 {unit}"]'
