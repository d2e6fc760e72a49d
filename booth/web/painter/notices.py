"""The alarms and warnings that stand at a booth, as its painter needs them: what, by how much, what to do, and when to touch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from booth.alarms.announce import announcement
from booth.alarms.book import Alarm, AlarmBook
from booth.alarms.states import State
from booth.judge.finding import Finding, Verdict
from booth.judge.health.faults import WORDS as FAULTS
from booth.live_jobs import Seen
from booth.shop.measures import LIMITED

CLOCKED = ("bake_start", "flash_maximum", "pot_life", "heat_up")


@dataclass(frozen=True)
class Notice:
    """One thing that stands. `about` is the kind of requirement, airflow, or an instrument's fault; `how` says which phrase fits.

    `step`: of an instrument, its point. `late_us`: by how much a moment was passed, negative while it is still to come. `value`,
    `low`, `high`: against its limit, in the unit used inside. `calm`: the gun is on, so only the beacon speaks. `token`: the same
    for the same occurrence.
    """

    alarm: str
    token: str
    priority: str
    how: str
    about: str
    vehicle: str | None
    step: str | None
    late_us: int | None
    value: float | None
    low: float | None
    high: float | None
    quantity: str | None
    what_to_do: str
    state: str
    raised: int
    calm: bool
    sound: bool
    may_acknowledge: bool
    immediate: bool


def notices(book: AlarmBook, booth: str, seen: Mapping[tuple[str, str], Seen], gun_on: bool, as_of: int) -> list[Notice]:
    """Those of a booth that are for its painter, the worst first, and of equals the newest."""
    own = [one for one in book.standing().values() if one.condition.booth == booth and one.condition.audience == "painter"]
    shown = [one for one in own if one.state is not State.SHELVED]
    shown.sort(key=lambda one: (-one.condition.rank, one.state is State.ACKNOWLEDGED, -one.raised))
    return [_notice(one, seen.get((one.condition.vehicle or "", one.condition.requirement)), gun_on, as_of) for one in shown]


def _notice(alarm: Alarm, seen: Seen | None, gun_on: bool, as_of: int) -> Notice:
    condition = alarm.condition
    said = announcement(alarm, gun_on)
    finding = seen.finding if seen else None
    about = finding.kind if finding else _about(condition.requirement)
    how = _how(alarm, about, finding)
    return Notice(
        alarm=condition.id,
        token=f"{condition.id}@{alarm.raised}",
        priority=condition.priority,
        how=how,
        about=about,
        vehicle=condition.vehicle,
        step=condition.id.split("/")[1] if about in FAULTS else condition.step,
        late_us=_late(alarm, finding, about, as_of),
        value=finding.observed if finding and about in LIMITED else None,
        low=finding.low if finding and about in LIMITED else None,
        high=finding.high if finding and about in LIMITED else None,
        quantity=finding.quantity if finding else None,
        what_to_do=condition.what_to_do,
        state=alarm.state.value,
        raised=alarm.raised,
        calm=gun_on and not condition.immediate,
        sound=said.sound,
        may_acknowledge=said.may_acknowledge,
        immediate=condition.immediate,
    )


def _about(requirement: str) -> str:
    """The last part of `clear-1/relative_humidity`, `south:air_velocity`, `gate:wash`, `stale`."""
    kind = requirement.rpartition("/")[2]
    first, _, last = kind.partition(":")
    return last if last in LIMITED else first


def _how(alarm: Alarm, about: str, finding: Finding | None) -> str:
    """Which phrase fits: each has its own words in the catalogue."""
    if about in FAULTS:
        return "instrument"
    if about in ("airflow", "whose_coat"):
        return about
    missed = alarm.condition.priority != "warning"
    if about in CLOCKED:
        return "closed" if missed else "closing"
    if about in LIMITED:
        if missed:
            return "limit_missed"
        return "limit_out" if finding is not None and finding.excursions else "limit_heading"
    return "missed" if missed else "warned"


def _late(alarm: Alarm, finding: Finding | None, about: str, as_of: int) -> int | None:
    """How long past a latest moment, or (negative) before it; once the step has begun, by how much it was late."""
    if about not in CLOCKED and about != "flash_minimum":
        return None
    latest = finding.window.latest if finding is not None and finding.window is not None else None
    if finding is not None and finding.final:
        if finding.verdict is not Verdict.MISSED or finding.margin is None or finding.quantity != "duration":
            return alarm.condition.overrun_us
        return round(abs(finding.margin) * 1e6)
    return as_of - latest if latest is not None else alarm.condition.overrun_us
