"""How an alarm is shown to people who have both hands full."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from booth.alarms.book import Alarm
from booth.alarms.states import State

Beacon = Literal["off", "steady", "flashing"]

# Flashing until somebody has seen it, then steady: the usual annunciator sequence (ANSI/ISA-18.1, from memory).
_BEACON: dict[State, Beacon] = {
    State.UNACKNOWLEDGED: "flashing",
    State.RETURNED_UNACKNOWLEDGED: "flashing",
    State.ACKNOWLEDGED: "steady",
}


@dataclass(frozen=True)
class Announcement:
    """`beacon` at the booth window, `sound` on or off, and whether acknowledging is offered now."""

    beacon: Beacon
    sound: bool
    may_acknowledge: bool


def announcement(alarm: Alarm, gun_on: bool) -> Announcement:
    """What the alarm does at its booth while the gun is on or off.

    A painter who stops mid-panel at a horn ruins the coat, and has no hand free to acknowledge: with the gun on, only
    the beacon speaks and the rest waits for trigger-off. Immediate alarms (airflow, hazard) don't wait. Alarms for
    maintenance leave the booth alone.
    """
    to_acknowledge = alarm.state in (State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED)
    if alarm.condition.audience == "maintenance":
        return Announcement("off", False, to_acknowledge)
    quiet = gun_on and not alarm.condition.immediate
    return Announcement(
        beacon=_BEACON.get(alarm.state, "off"),
        sound=alarm.state is State.UNACKNOWLEDGED and not quiet,
        may_acknowledge=to_acknowledge and not quiet,
    )
