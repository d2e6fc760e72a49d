"""A process: the zones of a body and the ordered steps that paint it, with gates, remedies and what to do."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from booth.shop.model import Model, example_of
from booth.shop.problems import expected, instead_of
from booth.shop.quantities import Identifier, Name, OrNotStated, Source, Volumes, read_quantity
from booth.shop.requirement import KINDS

Substrate = Literal["steel", "fibreglass", "gelcoat", "adhesive", "fitted"]

NEEDS = {
    "coat": ("coating",),
    "flash": ("after",),
    "purge": ("volumes",),
    "bake": ("coating", "after"),
    "cool": ("after",),
    "check": ("check",),
    "inspect": ("check",),
    "mix": ("coating",),
}
"""The keys that a step of each kind needs, and no other kind's."""

COMES_AFTER = {"flash": "coat", "bake": "coat", "cool": "bake"}
"""Step kind -> kind of the step that its `after` names."""

REMEDIES = {"coat": ("dew_point_margin",), "flash": ("flash_maximum",), "bake": ("bake_start", "heat_up", "dwell")}
"""Step kind -> the misses on it that a process may know a way out of."""

GATE_VALUES = {"flow": "liquid_flow", "moisture": "moisture", "film": "film", "temperature": "temperature"}
"""Values that a check can carry, and their kinds."""


class Gate(Model):
    """A check that must have passed before the first coat."""

    check: Identifier = Field(examples=['"water-test"'])
    after: Literal["repaired"] | None = Field(default=None, examples=['"repaired"'])
    value: Literal[tuple(GATE_VALUES)] | None = Field(default=None, examples=['"flow"'])
    minimum: str | None = Field(default=None, examples=['"30 gallon/min"'])
    maximum: str | None = Field(default=None, examples=['"12 percent"'])
    source: Source

    @model_validator(mode="after")
    def _value_can_be_judged(self) -> Gate:
        limited = self.minimum is not None or self.maximum is not None
        if (self.value is not None) != limited:
            raise expected("a gate with a value has a minimum or a maximum for it", 'value = "flow", minimum = "30 gallon/min"')
        low, high = self.bounds()
        if low is not None and high is not None and low >= high:
            raise expected("the minimum must be below the maximum", "the smaller of the two as minimum", at="minimum")
        return self

    def bounds(self) -> tuple[float | None, float | None]:
        """Minimum and maximum in the unit used inside."""
        ends = (self.minimum, self.maximum)
        return tuple(None if end is None else read_quantity(end, GATE_VALUES[self.value]) for end in ends)


class PurgeVolumes(Model):
    minimum: Volumes
    source: Source


class Remedy(Model):
    """The process's own way out of a miss: the miss stays, the round ends `remedied` when the check has passed."""

    for_: Literal["flash_maximum", "bake_start", "dew_point_margin", "heat_up", "dwell"] = Field(
        alias="for", examples=['"flash_maximum"']
    )
    check: Identifier = Field(examples=['"scuff"'])
    text: Name = Field(examples=['"Scuff the coat, wipe it down, then go on."'])


class Step(Model):
    """One step. Which other keys it needs depends on its kind (NEEDS)."""

    step: Identifier
    kind: Literal["check", "mix", "coat", "flash", "purge", "bake", "cool", "inspect"] = Field(examples=['"coat"'])
    coating: Name | None = Field(default=None, examples=['"two-pack-clear"'])
    after: Name | None = Field(default=None, examples=['"clear-1"'])
    check: Identifier | None = Field(default=None, examples=['"inspect"'])
    volumes: Annotated[PurgeVolumes, OrNotStated] | None = None
    remedy: Remedy | None = None

    @classmethod
    def example(cls) -> str:
        return '{ step = "clear-1", kind = "coat", coating = "two-pack-clear" }'

    @model_validator(mode="after")
    def _has_what_its_kind_needs(self) -> Step:
        for key in ("coating", "after", "check", "volumes"):
            there = getattr(self, key) is not None
            if there and key not in NEEDS[self.kind]:
                raise expected(f"a step of kind {self.kind} has no use for {key}", f"no {key} here")
            if not there and key in NEEDS[self.kind]:
                example = example_of(type(self).model_fields[key])
                raise expected(f"a step of kind {self.kind} needs {key}", f"{key} = {example}")
        if self.remedy is not None and self.remedy.for_ not in REMEDIES.get(self.kind, ()):
            possible = " or ".join(f'"{kind}"' for kind in REMEDIES.get(self.kind, ()))
            write = f"for = {possible}" if possible else "no remedy here"
            raise expected(f"a step of kind {self.kind} can't miss {self.remedy.for_}", write)
        return self


class Process(Model):
    """One process; the name of its file is its id."""

    name: Name = Field(examples=['"High roof, painted all over"'])
    version: Name = Field(examples=['"4"'])
    body: Name = Field(examples=['"high roof"'])
    zones: dict[Identifier, Substrate] = Field(min_length=1, examples=['{ roof = "fibreglass", sides = "steel" }'])
    gates: tuple[Gate, ...] = ()
    steps: tuple[Step, ...] = Field(min_length=1)
    what_to_do: dict[str, Name] = Field(default={}, examples=['{ dwell = "Leave the bake running." }'])

    @field_validator("what_to_do")
    @classmethod
    def _for_kinds_of_requirement(cls, value: dict[str, str]) -> dict[str, str]:
        for kind in value:
            if kind not in KINDS:
                raise expected(f"{kind!r} is not a kind of requirement", instead_of(kind, KINDS), at=kind)
        return value

    @model_validator(mode="after")
    def _steps_refer_to_earlier_steps(self) -> Process:
        kinds: dict[str, str] = {}
        for step in self.steps:
            if step.step in kinds:
                raise expected(f"step {step.step!r} stands twice", f'step = "{step.step}-2"', at=f"steps.{step.step}.step")
            wanted = COMES_AFTER.get(step.kind)
            if wanted and kinds.get(step.after) != wanted:
                named = [name for name, kind in kinds.items() if kind == wanted]
                message = f"{step.after!r} is no earlier step of kind {wanted}"
                write = f"after = {' or '.join(named)}" if named else f"a step of kind {wanted} before it"
                raise expected(message, write, at=f"steps.{step.step}.after")
            kinds[step.step] = step.kind
        return self

    @model_validator(mode="after")
    def _gates_stand_before_a_coat(self) -> Process:
        checks = [gate.check for gate in self.gates]
        for check in checks:
            if checks.count(check) > 1:
                raise expected(f"gate {check!r} stands twice", "one of the two", at=f"gates.{check}.check")
        if checks and not self.coats():
            raise expected(
                "gates are judged before the first coat, and no step is a coat", 'a step with kind = "coat"', at="gates"
            )
        return self

    def named(self, step: str) -> Step | None:
        return next((one for one in self.steps if one.step == step), None)

    def coats(self) -> list[Step]:
        return [step for step in self.steps if step.kind == "coat"]

    def following(self, step: str) -> Step | None:
        """The next step in the list."""
        names = [one.step for one in self.steps]
        index = names.index(step) + 1
        return self.steps[index] if index < len(names) else None
