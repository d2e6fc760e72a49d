"""Events of care: what keeps a booth's air and its people's protection in order, and what was bought and used.

Training and fit tests carry until when they hold, and whose they are in the entry's private part (`by`); never a medical result.
An air sample carries where its laboratory report is, and no name: the report has it.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, model_validator

from booth.shop.event_values import Moment, amount
from booth.shop.measures import JUDGED_MODES
from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Name
from booth.times import parse_time

Pressure = amount("pressure")
Velocity = amount("velocity")
LiquidVolume = amount("liquid_volume", zero=False)


class Tested(Model):
    """Something that was looked at, and how that went; `report` says where the paper is."""

    result: Literal["passed", "failed", "repaired"]
    report: Name | None = None
    valid_until: Moment | None = None


class FilterChanged(Model):
    filter: Name
    paper: Name | None = None  # of the new filter's tested efficiency
    drop_before: Pressure | None = None
    drop_after: Pressure | None = None


class GridMeasured(Model):
    """Velocities over a plane of the booth, to which the fixed probe is tied: each point, or the mean and the lowest of them."""

    mode: Literal[JUDGED_MODES]
    state: Literal["loaded", "empty"]
    instrument: Name
    rule: Literal["equal-area", "log-tchebycheff", "log-linear"] = "equal-area"
    velocities: dict[str, Velocity] | None = Field(default=None, min_length=1)
    mean: Velocity | None = None
    lowest: Velocity | None = None
    index: Velocity | None = None  # what the fixed probe read meanwhile
    area: amount("area", zero=False) | None = None
    report: Name | None = None

    @model_validator(mode="after")
    def _points_or_their_mean(self) -> GridMeasured:
        if (self.velocities is None) == (self.mean is None):
            raise expected("a grid has either its points or their mean, not both, not neither", "mean=0.52 m/s lowest=0.44 m/s")
        if (self.mean is None) != (self.lowest is None):
            raise expected("a mean comes with the lowest point", "lowest=0.44 m/s")
        return self


class BoothExamined(Tested):
    pass


class InterlockTested(Tested):
    interlock: Name


class GaugeTested(Tested):
    gauge: Name


class AlarmTested(Tested):
    device: Name


class SprayTraining(Model):
    """`by` is who was trained."""

    course: Name | None = None
    certificate: Name | None = None
    valid_until: Moment


class FitTest(Model):
    """`by` is who was fitted. Nothing of a medical nature has a key here."""

    respirator: Name
    valid_until: Moment


class GunType(Model):
    gun: Name
    type: Name


class GunCleaned(Model):
    gun: Name
    method: Name | None = None


class AirSample(Model):
    """A measured exposure: what the laboratory reported, as it wrote it, and where the report is."""

    report: Name
    laboratory: Name
    substance: Name
    found: Name
    place: Literal["personal", "area"]
    from_: Moment = Field(alias="from")
    to: Moment

    @model_validator(mode="after")
    def _forwards(self) -> AirSample:
        if parse_time(self.from_) >= parse_time(self.to):
            raise expected("from must be before to", "the earlier of the two as from")
        return self


class Used(Model):
    """Liquid used beside the mixes: thinner, gun wash. `coating` where its content stands in a coating's file."""

    product: Name
    use: Literal["coating", "thinner", "cleaner"]
    volume: LiquidVolume
    coating: Name | None = None
    lot: Name | None = None


class Purchase(Model):
    product: Name
    volume: LiquidVolume
    component: Name | None = None
    lot: Name | None = None
    document: Name | None = None


CARE_EVENTS: dict[str, type[Model]] = {
    "filter-changed": FilterChanged,
    "grid": GridMeasured,
    "booth-examined": BoothExamined,
    "interlock-tested": InterlockTested,
    "gauge-tested": GaugeTested,
    "alarm-tested": AlarmTested,
    "spray-training": SprayTraining,
    "fit-test": FitTest,
    "gun-type": GunType,
    "gun-cleaned": GunCleaned,
    "air-sample": AirSample,
    "used": Used,
    "purchase": Purchase,
}

DUE_AGAIN = ("filter-changed", "grid", "booth-examined", "interlock-tested", "gauge-tested", "alarm-tested", "gun-cleaned")
"""Care of a booth that comes round again, as often as its file says."""

OF_A_PERSON = ("spray-training", "fit-test")
"""Care of people: whose it is stands in `by`, and there must be one."""

SUBJECT = {
    "filter-changed": "filter",
    "interlock-tested": "interlock",
    "gauge-tested": "gauge",
    "alarm-tested": "device",
    "gun-type": "gun",
    "gun-cleaned": "gun",
    "fit-test": "respirator",
    "air-sample": "substance",
}
"""The key that says which one it was, where a booth has several."""


def subject(kind: str, body: dict[str, Any]) -> str | None:
    """Which filter, gauge, gun …; for a grid its mode and state."""
    if kind == "grid":
        return f"{body['mode']}, {body['state']}"
    return body.get(SUBJECT.get(kind, ""))
