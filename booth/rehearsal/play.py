"""A case played: its made-up readings and events sent through the logger, into a store of its own that is thrown away."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, groupby
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from booth.alarms.states import State
from booth.alarms.transition import Transition, read_transition
from booth.clocks import TickClock
from booth.judge.assess import cases, requirements
from booth.judge.finding import Finding
from booth.judge.series import Series
from booth.logger import Logger
from booth.readers.received import Received
from booth.rehearsal.script import Script
from booth.reports.judged import judge_vehicle
from booth.shop.point import Point
from booth.shop.shop import Shop
from booth.store import Store
from booth.times import DAY, SECOND, format_time
from booth.units import KINDS

LOOK_EVERY_US = 60 * SECOND

Message = tuple[int, str, dict[str, Any]]  # when it comes, its topic, its payload


@dataclass(frozen=True)
class Alarm:
    """An alarm's state at a moment, and when it was raised for the first time."""

    requirement: str
    priority: str
    audience: str
    state: State
    raised: int
    sentence: str


@dataclass(frozen=True)
class Picture:
    """What the logger says at one moment of the case."""

    findings: dict[str, Finding]  # of the latest round, by requirement
    points: dict[str, list[str]]  # that each of them rests on
    alarms: tuple[Alarm, ...]


@dataclass(frozen=True)
class Played:
    """A case after it was played. `readings` are what was sent, by point; `refused` is what the logger set aside, and why."""

    script: Script
    pictures: dict[int, Picture]  # by the moment asked about
    readings: dict[str, Series]
    points: dict[str, Point]
    alarms: tuple[Alarm, ...]  # at the end
    refused: tuple[str, ...]


def play(script: Script, shop: Shop) -> Played:
    """Play a case from its beginning to its end."""
    asked = sorted({moment_of(script, one.at) for one in script.case.expect})
    with Store.in_memory() as store:
        clock = TickClock()
        logger = Logger(shop, store, clock)
        pictures = {}
        for now, messages in _moments(script, shop, asked):
            clock.set(now)
            logger.watch  # noqa: B018 -- made when the clock is known, as the loop does
            logger.handle([_received(*message) for message in messages], now, lambda _message: None)
            logger.look(now)
            if now in asked:
                pictures[now] = _picture(script, shop, store, now)
        return Played(
            script,
            pictures,
            {name: store.readings.evidence(name, script.begins, script.ends + 1, 0) for name in script.traces},
            {name: _point(shop, name) for name in script.traces},
            _alarms(store, script.ends),
            tuple(f"{one.reason}: {one.sentence}" for one in store.quarantine.recent(20)),
        )


def moment_of(script: Script, at: int | None) -> int:
    """A time of the case as a moment; without one, its end."""
    return script.ends if at is None else script.begins + at


def _moments(script: Script, shop: Shop, asked: list[int]) -> Iterator[tuple[int, list[Message]]]:
    """When the logger looks, and what has come since the look before: at each event, at each question, and every so often."""
    calibrated = _calibrations(script, shop) if script.rehearsal.calibrated else ()
    messages = sorted(chain(calibrated, _events(script), _readings(script, shop)), key=lambda one: one[0])
    looks = {*asked, script.ends, *(time for time, topic, _ in messages if topic.endswith("/event"))}
    looks = sorted(looks | set(range(script.begins, script.ends, LOOK_EVERY_US)))
    waiting = iter(looks)
    look = next(waiting)
    batch: list[Message] = []
    for time, together in groupby(messages, key=lambda one: one[0]):
        while time > look:
            yield look, batch
            look, batch = next(waiting), []
        batch += together
    yield look, batch
    yield from ((rest, []) for rest in waiting)


def _readings(script: Script, shop: Shop) -> Iterator[Message]:
    for name, trace in script.traces.items():
        unit = unit_of(_point(shop, name))
        for us, value in trace.samples(script.ends - script.begins, f"{script.case.name}/{name}"):
            sent = value if isinstance(value, str) else round(value, 6)
            time = script.begins + us
            yield time, f"shop/{name}", {"time": format_time(time), "value": sent, "unit": unit}


def _point(shop: Shop, name: str) -> Point:
    booth, _, point = name.partition("/")
    return shop.booths[booth].points[point]


def unit_of(point: Point) -> str:
    """The unit used inside, which the made-up readings are sent in."""
    kind = KINDS[point.kind]
    return "" if kind.inside == "dimensionless" else kind.inside


def _events(script: Script) -> Iterator[Message]:
    rehearsal = script.rehearsal
    van = {"vehicle": rehearsal.vehicle, **rehearsal.van.model_dump(mode="json")}
    opening = [(0, "job-open", {"process": rehearsal.process}), (0, "load", {"vans": [van]})]
    for number, (at, event, own) in enumerate([*opening, *((one.at, one.event, one.body) for one in script.events)]):
        booth = own.get("booth", rehearsal.booth)
        about = {} if event in ("load", "mix", "calibration") else {"vehicle": rehearsal.vehicle}
        identity = str(uuid5(NAMESPACE_URL, f"rehearsal/{script.file}/{script.case.name}/{number}"))
        body = {"id": identity, "event": event, "time": format_time(script.begins + at), "by": "rehearsal", **about, **own}
        body.pop("booth", None)
        yield script.begins + at, f"shop/{booth}/event", body


def _calibrations(script: Script, shop: Shop) -> Iterator[Message]:
    until = format_time(script.ends + DAY)
    for booth, room in shop.booths.items():
        for point in room.points:
            identity = str(uuid5(NAMESPACE_URL, f"rehearsal/{script.file}/{script.case.name}/calibration/{booth}/{point}"))
            body = {"id": identity, "event": "calibration", "time": format_time(script.begins), "by": "rehearsal"}
            yield script.begins, f"shop/{booth}/event", body | {"point": point, "result": "passed", "valid_until": until}


def _received(time: int, topic: str, body: dict[str, Any]) -> Received:
    return Received(topic, json.dumps(body).encode(), time, 1, None, False)


def _picture(script: Script, shop: Shop, store: Store, now: int) -> Picture:
    judged = judge_vehicle(shop, store, script.rehearsal.vehicle, now)
    process, round_ = judged.shop.processes[judged.job.process], judged.job.round
    points = {
        one.id: judged.gatherer.points(one, case)
        for case in cases(judged.job, process, round_)
        for one in requirements(case, judged.promises)
    }
    findings = {one.requirement: one for one in judged.assessment.rounds[-1].findings}
    return Picture(findings, points, _alarms(store, now))


def _alarms(store: Store, now: int) -> tuple[Alarm, ...]:
    """Every alarm that was ever raised by now; one that is normal again too."""
    latest: dict[str, Transition] = {}
    raised: dict[str, int] = {}
    for entry in store.journal.entries(kinds=["alarm"]):
        move = read_transition(entry.body, entry.private)
        if move.at <= now:
            latest[move.alarm_id] = move
            raised.setdefault(move.alarm_id, move.at)
    return tuple(_alarm(move, raised[name]) for name, move in latest.items())


def _alarm(move: Transition, raised: int) -> Alarm:
    condition = move.condition
    return Alarm(condition.requirement, condition.priority, condition.audience, move.after, raised, condition.sentence)
