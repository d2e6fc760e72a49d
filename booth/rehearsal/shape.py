"""The shape of a rehearsal's file."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal

from pydantic import Field, model_validator

from booth.alarms.states import State
from booth.judge.finding import Verdict
from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Duration, Flag, Identifier, Name

BEGINS = "2026-07-13T06:00:00Z"
WITHIN_US = 5_000_000


class Van(Model):
    """How the van stands in the booth."""

    guns: tuple[Name, ...] = ()
    probes: dict[str, Name] = {}


class Happening(Model):
    """An event so long after the beginning; the keys beside these are the event's own (docs/configuration.md)."""

    model_config = Model.model_config | {"extra": "allow"}

    at: Duration = Field(examples=['"20 min"'])
    event: Name = Field(examples=['"step-start"'])
    name: Name | None = Field(default=None, examples=['"clear begins"'])

    @property
    def body(self) -> dict[str, Any]:
        return dict(self.model_extra or {})


class Expected(Model):
    """A finding (requirement and verdict), or an alarm (its requirement and state), at a time."""

    at: Duration | None = Field(default=None, examples=['"1 h"'])
    requirement: Name | None = Field(default=None, examples=['"bake/bake_start"'])
    verdict: Verdict | None = Field(default=None, examples=['"missed"'])
    final: Flag | None = None
    says: Name | None = Field(default=None, examples=['"4 min late"'])
    alarm: Name | None = Field(default=None, examples=['"bake/bake_start"'])
    state: State | None = Field(default=None, examples=['"unacknowledged"'])
    priority: Literal["warning", "alarm", "hazard"] | None = None
    raised: Duration | None = Field(default=None, examples=['"35 min"'])
    within: Duration = Field(default=WITHIN_US, examples=['"5 s"'])

    @model_validator(mode="after")
    def _one_thing(self) -> Expected:
        about_finding = self.requirement is not None and self.verdict is not None
        about_alarm = self.alarm is not None and (self.state is not None or self.raised is not None)
        if about_finding == about_alarm:
            raise expected(
                "expected either a requirement with its verdict, or an alarm with its state or when it was raised",
                '{ requirement = "bake/bake_start", verdict = "missed" }',
            )
        return self


class Case(Model):
    """One made-up course of things, and what must come of it."""

    name: Name = Field(examples=['"the bake starts 4 min late"'])
    lasts: Duration | None = Field(default=None, examples=['"3 h"'])
    points: dict[str, Name] = {}
    events: tuple[Happening, ...] = ()
    without: tuple[Name, ...] = ()
    expect: tuple[Expected, ...] = Field(min_length=1, examples=['[{ requirement = "bake/bake_start", verdict = "missed" }]'])
    quiet: Flag = False


class Rehearsal(Model):
    """The whole file. `points` and `events` are what every case begins with.

    `calibrated`: every instrument was calibrated just before, so that a rehearsal about paint needn't speak of it.
    """

    process: Identifier = Field(examples=['"standard"'])
    booth: Identifier = Field(examples=['"south"'])
    begins: datetime = Field(default=BEGINS, validate_default=True, examples=["2026-07-13T06:00:00Z"])
    vehicle: Name = "REHEARSAL"
    van: Van = Van()
    calibrated: Flag = True
    points: dict[str, Name] = {}
    events: tuple[Happening, ...] = ()
    case: tuple[Case, ...] = Field(min_length=1, examples=['[{ name = "…" }]'])

    @model_validator(mode="after")
    def _names(self) -> Rehearsal:
        if self.begins.tzinfo is None:
            raise expected("begins has no offset from UTC", "2026-07-13T06:00:00Z", at="begins")
        names = [case.name for case in self.case]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice:
            raise expected(f"two cases are named {twice!r}", "a name of its own for each", at="case")
        return self
