"""One model for each event of the contract: the keys that it takes beside id, event, time, booth and the private ones."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, field_serializer, model_validator

from booth.shop.care_shapes import CARE_EVENTS, LiquidVolume
from booth.shop.event_values import Identity, Moment
from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.process import GATE_VALUES
from booth.shop.quantities import Name, read_quantity
from booth.times import DAY, parse_time


def _is_a_thickness(value: str) -> str:
    if read_quantity(value, "film") <= 0:
        raise expected(f"a film has a thickness above zero, found {value!r}", "62 um")
    return value


def _have_units(values: dict[str, str]) -> dict[str, str]:
    for name, text in values.items():
        if name not in GATE_VALUES:
            raise expected(f"{name!r} is not a value that a check records", f"one of {', '.join(GATE_VALUES)}")
        read_quantity(text, GATE_VALUES[name])
    return values


Thickness = Annotated[str, AfterValidator(_is_a_thickness)]
Values = Annotated[dict[str, str], AfterValidator(_have_units)]
Result = Literal["passed", "failed", "repaired"]


class VehicleEvent(Model):
    vehicle: Name = Field(max_length=200)


class JobOpen(VehicleEvent):
    process: Name


class Van(VehicleEvent):
    bay: Name | None = None
    guns: tuple[Name, ...] = ()
    probes: dict[str, Name] = {}  # point -> zone


class Load(Model):
    """The complete list of what is now in the booth."""

    vans: tuple[Van, ...]

    @model_validator(mode="after")
    def _nothing_twice(self) -> Load:
        vehicles = [van.vehicle for van in self.vans]
        fixed = [name for van in self.vans for name in (*van.guns, *van.probes)]
        for name in (*vehicles, *fixed):
            if (*vehicles, *fixed).count(name) > 1:
                raise expected(f"{name!r} stands twice in this load", "each vehicle, gun and probe once")
        return self


class StepEvent(VehicleEvent):
    step: Name
    zone: Name | None = None


class Stretch(StepEvent):
    """The start or the end of a step; a coat names its mix."""

    mix: Name | None = None


class Check(VehicleEvent):
    check: Name
    result: Result
    values: Values = {}


class Mix(Model):
    mix: Name
    coating: Name
    lots: dict[str, Name] = {}
    pot: Name | None = None
    volume: LiquidVolume | None = None  # all that was mixed


class Film(StepEvent):
    value: Thickness
    gauge: Name


class Acknowledge(Model):
    alarm: Name


class Shelve(Acknowledge):
    until: Moment


class Facts(Model):
    """What a correction can change of an earlier entry: what happened, never a limit."""

    time: Moment | None = None
    vehicle: Name | None = None
    step: Name | None = None
    zone: Name | None = None
    mix: Name | None = None
    result: Result | None = None
    values: Values | None = None
    lots: dict[str, Name] | None = None
    pot: Name | None = None
    volume: LiquidVolume | None = None
    vans: tuple[Van, ...] | None = None
    value: Thickness | None = None

    @model_validator(mode="after")
    def _only_what_can_be_missing_is_taken_away(self) -> Facts:
        for name in sorted(self.model_fields_set):
            if getattr(self, name) is None and name not in REMOVABLE:
                raise expected(f"{name} can be corrected but not taken away", f"one of {', '.join(REMOVABLE)} can be null")
        return self


REMOVABLE = ("mix", "pot", "zone")
"""Facts that an event can do without, so that a correction may take them away."""


class Correction(Model):
    corrects: Identity
    set: Facts

    @model_validator(mode="after")
    def _changes_something(self) -> Correction:
        if not self.set.model_fields_set:
            raise expected("a correction changes at least one fact", f"one of {', '.join(Facts.model_fields)}")
        return self

    @field_serializer("set")
    def _as_sent(self, facts: Facts) -> dict[str, Any]:
        """A fact that is set to null is taken away; one that isn't named stays."""
        return facts.model_dump(mode="json", exclude_unset=True)


class Concession(VehicleEvent):
    requirement: Name


class Calibration(Model):
    point: Name
    result: Literal["passed", "failed"]
    as_found: Name | None = None
    as_left: Name | None = None
    valid_until: Moment


class Review(Model):
    from_: Moment = Field(alias="from")
    to: Moment

    @model_validator(mode="after")
    def _forwards(self) -> Review:
        if parse_time(self.from_) >= parse_time(self.to):
            raise expected("from must be before to", "the earlier of the two as from")
        return self


LONGEST_NO_COAT_US = DAY  # a slip in the year would silence the guns of a booth for good


class NotACoat(Model):
    """By the entry that the logger made of it, or, whether it has told of one or not, by the time in a booth."""

    corrects: Identity | None = None
    from_: Moment | None = Field(default=None, alias="from")
    to: Moment | None = None

    @model_validator(mode="after")
    def _says_what(self) -> NotACoat:
        if [self.corrects is None, self.from_ is not None, self.to is not None] not in ([True] * 3, [False] * 3):
            raise expected(
                "it names the entry that was no coat, or from when to when the guns made none",
                'corrects = the id of the entry, or from = "…" and to = "…"',
            )
        if self.corrects is None and not 0 <= parse_time(self.to) - parse_time(self.from_) <= LONGEST_NO_COAT_US:
            raise expected("to must come after from, within a day", "when the gun was taken up, and when it was put down")
        return self


EVENTS: dict[str, type[Model]] = {
    "job-open": JobOpen,
    "job-close": VehicleEvent,
    "load": Load,
    "step-start": Stretch,
    "step-end": Stretch,
    "hold": StepEvent,
    "resume": StepEvent,
    "handover": StepEvent,
    "check": Check,
    "mix": Mix,
    "film": Film,
    "acknowledge": Acknowledge,
    "shelve": Shelve,
    "note": VehicleEvent,
    "correction": Correction,
    "concession": Concession,
    "release": VehicleEvent,
    "reopen": VehicleEvent,
    "calibration": Calibration,
    "review": Review,
    "not-a-coat": NotACoat,
    **CARE_EVENTS,
}
"""Every event of the contract and its shape."""
