"""The script turned into what people cause: events with their ids, open guns, booth modes, acknowledgements."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random
from uuid import NAMESPACE_URL, uuid5

from booth.times import SECOND, format_time
from simulators.scenario import Scenario, Visit
from simulators.spraying import Stroke, strokes

FANS_BEFORE_GUN_S = 75  # the interlock gives atomising air only once the fans are up
SPRAY_AFTER_GUN_S = 8
DAY_S = 24 * 3600
ACKNOWLEDGED_AFTER_TICKS = 18
MESSAGE = tuple[str, dict]


@dataclass(frozen=True)
class Event:
    """Something that somebody did at `second` (after midnight), as the dictionary that goes on the wire."""

    second: int
    topic: str
    body: dict


class Script:
    """Everything that doesn't depend on the logger: events by time, strokes and modes of every booth."""

    def __init__(self, seed: int, scenario: Scenario, points: list[str]) -> None:
        self.seed = seed
        self.scenario = scenario
        self.strokes = {
            (visit.vehicle, coat.step): strokes(seed, visit, coat) for visit in scenario.visits for coat in visit.coats
        }
        self.guns = {booth.name: self._strokes_in(booth.name) for booth in scenario.booths}
        self.modes = {booth.name: _modes(self._visits(booth.name), self.coat_end) for booth in scenario.booths}
        self.events = sorted(self._events(points), key=lambda event: event.second)  # stable: a script's order stays

    def coat_end(self, visit: Visit, step: str) -> int:
        """The second in which the last trigger of a coat was let go."""
        return max(stroke.end for stroke in self.strokes[visit.vehicle, step])

    def mode(self, booth: str, second: int) -> str:
        times, words = self.modes[booth]
        return words[bisect_right(times, second) - 1]

    def _strokes_in(self, booth: str) -> list[Stroke]:
        """All openings of guns in a booth, blow-offs too."""
        painted = [s for visit in self._visits(booth) for coat in visit.coats for s in self.strokes[visit.vehicle, coat.step]]
        blown = [Stroke(b.gun, b.start, b.start + b.seconds) for b in self.scenario.bursts if b.booth == booth]
        return painted + blown

    def _visits(self, booth: str) -> list[Visit]:
        return [visit for visit in self.scenario.visits if visit.booth == booth]

    def event(self, second: int, place: str, by: str, name: str, key: str = "", /, **body: object) -> Event:
        """An event; its id comes from seed, place, time, kind and key, so that the same run has the same ids."""
        identity = uuid5(NAMESPACE_URL, f"simulated:{self.seed}/{place}/{second}/{name}/{key}")
        time = format_time(self.scenario.midnight + second * SECOND)
        return Event(second, f"shop/{place}/event", {"id": str(identity), "event": name, "time": time, "by": by, **body})

    def _events(self, points: list[str]) -> Iterator[Event]:
        scenario = self.scenario
        rng = Random(f"{self.seed}/buttons")
        for point in points:
            booth, name = point.split("/")
            if name != "mode":  # a word from the controller; nothing to calibrate
                yield self.event(
                    scenario.start,
                    booth,
                    scenario.calibrated_by,
                    "calibration",
                    name,
                    booth=booth,
                    point=name,
                    result="passed",
                    as_found="within tolerance",
                    as_left="not adjusted",
                    valid_until=scenario.calibrated_until,
                )
        for care in scenario.care:
            second = scenario.start - care.days_before * DAY_S
            yield self.event(second, care.booth, care.by, care.event, str(care.body), **dict(care.body))
        for mix in scenario.mixes:
            volume = {} if mix.litres is None else {"volume": f"{mix.litres:g} L"}
            yield self.event(
                mix.time,
                "mix-room",
                mix.by,
                "mix",
                mix.mix,
                mix=mix.mix,
                coating=mix.coating,
                lots=dict(mix.lots),
                pot="pot-1",
                **volume,
            )
        for note in scenario.notes:
            yield self.event(note.time, note.booth, note.by, "note", note.vehicle, vehicle=note.vehicle, text=note.text)
        for visit in scenario.visits:
            yield from self._visit(visit, rng)

    def _visit(self, visit: Visit, rng: Random) -> Iterator[Event]:
        van, booth = visit.vehicle, visit.booth
        yield self.event(visit.opened, "mask-room", visit.checks[0].by, "job-open", van, vehicle=van, process=visit.body.process)
        for check in visit.checks:
            place = "mask-room" if check.time < visit.loaded else booth
            values = {"values": dict(check.values)} if check.values else {}
            yield self.event(
                check.time,
                place,
                check.by,
                "check",
                f"{van}/{check.check}",
                vehicle=van,
                check=check.check,
                result=check.result,
                **values,
            )
        yield self.event(
            visit.loaded,
            booth,
            visit.painter,
            "load",
            van,
            vans=[
                {
                    "vehicle": van,
                    "bay": "bay-1",
                    "guns": ["gun-1", "gun-2"],
                    "probes": dict(visit.said_probes or visit.body.probes),
                }
            ],
        )
        for coat in visit.coats:
            pressed, released = coat.start - rng.randint(4, 12), self.coat_end(visit, coat.step) + rng.randint(4, 12)
            if "step-start" not in coat.forgotten:
                yield self.event(
                    pressed, booth, visit.painter, "step-start", coat.step, vehicle=van, step=coat.step, mix=coat.mix
                )
            if "step-end" not in coat.forgotten:
                yield self.event(released, booth, visit.painter, "step-end", coat.step, vehicle=van, step=coat.step)
        if visit.unloaded is not None:
            yield from self._leaving(visit)

    def _leaving(self, visit: Visit) -> Iterator[Event]:
        van, inspector = visit.vehicle, visit.checks[-1]
        for film in visit.films:
            yield self.event(
                inspector.time - 30,
                visit.booth,
                inspector.by,
                "film",
                f"{van}/{film.zone}",
                vehicle=van,
                step=visit.coats[-1].step,
                zone=film.zone,
                value=film.value,
                gauge=film.gauge,
            )
        yield self.event(visit.unloaded, visit.booth, visit.painter, "load", f"{van}/out", vans=[])
        yield self.event(visit.unloaded, visit.booth, inspector.by, "job-close", van, vehicle=van)


def _modes(visits: list[Visit], coat_end: Callable[[Visit, str], int]) -> tuple[list[int], list[str]]:
    """The seconds at which a booth's mode changes, and the modes from then on."""
    changes = [(0, "idle")]
    for visit in visits:
        for coat in visit.coats:
            changes.append((coat.start - FANS_BEFORE_GUN_S, "spray"))
            changes.append((coat_end(visit, coat.step) + SPRAY_AFTER_GUN_S, "flash"))
        for second, mode in ((visit.purge, "purge"), (visit.bake, "bake"), (visit.cool, "cool"), (visit.cooled, "idle")):
            if second is not None:
                changes.append((second, mode))
    changes.sort()
    return [second for second, _ in changes], [mode for _, mode in changes]


@dataclass
class Acknowledger:
    """The painter at the screen: acknowledges an alarm some ticks after it appeared, once no gun is open.

    Counted in ticks, not in real time, so that a run in lockstep always answers in the same tick.
    """

    script: Script
    waiting: dict[tuple[str, str], int] = field(default_factory=dict)  # (booth, alarm) -> ticks it has stood
    answered: dict[tuple[str, str], int] = field(default_factory=dict)

    def heard(self, topic: str, message: dict | None) -> None:
        """A retained alarm message; None when the topic was cleared. Only unacknowledged states ask for an answer."""
        if message is None or "alarm" not in message:
            return
        key = (topic.split("/")[1], message["alarm"])
        if "unacknowledged" in str(message.get("state", "")):
            self.waiting.setdefault(key, 0)
        else:
            self.waiting.pop(key, None)

    def tick(self, second: int, open_guns: dict[str, list[Stroke]]) -> list[MESSAGE]:
        """One tick has passed: the acknowledgements that are sent in it."""
        messages = []
        for key in sorted(self.waiting):
            booth, alarm = key
            self.waiting[key] += 1
            if self.waiting[key] < ACKNOWLEDGED_AFTER_TICKS or open_guns.get(booth):
                continue
            del self.waiting[key]
            self.answered[key] = self.answered.get(key, 0) + 1
            event = self.script.event(
                second, booth, self._who(booth, second), "acknowledge", f"{alarm}/{self.answered[key]}", alarm=alarm
            )
            messages.append((event.topic, event.body))
        return messages

    def _who(self, booth: str, second: int) -> str:
        """The painter of the van in the booth, or of the last one; the supervisor where there is none."""
        here = [v for v in self.script.scenario.visits if v.booth == booth and v.loaded <= second]
        return here[-1].painter if here else self.script.scenario.calibrated_by
