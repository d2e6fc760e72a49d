"""A shift with two vans in one booth, as a script and as what is sent: guns, mode, a steady air, and what people press."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from random import Random
from uuid import NAMESPACE_URL, uuid5

import numpy as np

from booth.times import SECOND, format_time
from simulators.any_shift import any_shift
from simulators.instruments import TICK_S, Instrument
from simulators.paint_booth import GUN_L_MIN
from simulators.scenario import Coat
from simulators.spraying import Stroke, strokes
from tests.truth.play import Message, Tick

BOOTH = "south"
VANS = ("TV-9001", "TV-9002")
PAUSE_S, SHORTEST_S = 180, 90  # the booth's longest_pause and shortest_coat
STEPS = ("sealer", "base-1", "clear-1", "clear-2")
MINUTE = 60


@dataclass(frozen=True)
class Sprayed:
    """A coat as it was, in seconds of the shift. `entered`: which of its buttons somebody pressed."""

    vehicle: str
    step: str
    strokes: tuple[Stroke, ...]
    entered: tuple[str, ...]
    answers: bool  # whether somebody enters a forgotten one ten minutes after it

    @property
    def start(self) -> int:
        return self.strokes[0].start

    @property
    def end(self) -> int:
        return max(one.end for one in self.strokes)


@dataclass(frozen=True)
class Crowded:
    """The script of a shift: one van, then two, then the other alone."""

    seed: int
    midnight: int
    coats: tuple[Sprayed, ...]
    idle: tuple[Stroke, ...]  # guns that painted nothing: cleaned, tried
    said: tuple[Stroke, ...]  # those of them of which somebody said so
    shared: tuple[int, int]
    end: int

    def is_shared(self, second: float) -> bool:
        return self.shared[0] <= second < self.shared[1]

    def at(self, us: int) -> float:
        return (us - self.midnight) / SECOND


def crowded(seed: int) -> Crowded:
    """By dice of its own."""
    dice, scenario = Random(f"crowded {seed}"), any_shift(seed, faults=False)
    (visit,) = scenario.visits
    now, coats, idle, marks = 6 * 3600 + 10 * MINUTE, [], [], {}
    beside = dice.random() < 0.3  # two painters: the second van's coat begins under the first one's
    turns = list(_turns())
    for turn, (van, step) in enumerate(turns):
        minutes = dice.uniform(8, 22)
        pulls = strokes(seed, replace(visit, vehicle=VANS[van]), Coat(step, "two-pack-clear", now, minutes, ""))
        gun = f"gun-{1 + van if beside else 1}"
        entered = tuple(button for button in ("step-start", "step-end") if dice.random() > 0.35)
        coats.append(Sprayed(VANS[van], step, tuple(replace(one, gun=gun) for one in pulls), entered, dice.random() < 0.5))
        marks[turn] = (now, coats[-1].end)
        now = coats[-1].end
        if beside and van == 0 and 2 <= turn < 6:
            now -= dice.randint(2, 6) * MINUTE
            continue
        same = turn + 1 < len(turns) and turns[turn + 1][0] == van  # then the paint flashes off first
        gap = dice.choice((9 * MINUTE, 14 * MINUTE) if same else (70, 4 * MINUTE, 9 * MINUTE, 14 * MINUTE))
        if gap >= 9 * MINUTE:
            idle += _idle(dice, now + 200)
        now += gap
    shared = (marks[1][1] + 30, marks[6][1] + 30)
    said = tuple(one for one in idle if one.end - one.start > SHORTEST_S and dice.random() < 0.7)
    return Crowded(seed, scenario.midnight, tuple(coats), tuple(idle), said, shared, now + 10 * MINUTE)


def _turns() -> Iterator[tuple[int, str]]:
    """The first van two coats ahead."""
    yield from ((0, STEPS[0]), (0, STEPS[1]), (1, STEPS[0]), (0, STEPS[2]), (1, STEPS[1]), (0, STEPS[3]), (1, STEPS[2]))
    yield (1, STEPS[3])


def _idle(dice: Random, start: int) -> list[Stroke]:
    """A test spray on paper, or a gun that is cleaned for a minute or two (common practice, no source)."""
    seconds = dice.choice((15, 30, 45, 110, 150))
    return [Stroke("gun-1", start, start + seconds)] if dice.random() < 0.6 else []


# What is sent


def ticks(shift: Crowded) -> Iterator[Tick]:
    start = 6 * 3600
    instruments = {f"{BOOTH}/gun-{n}": Instrument.seeded(f"{BOOTH}/gun-{n}", shift.seed, ()) for n in (1, 2)}
    events = sorted(_events(shift), key=lambda one: one[0])
    pulls = [one for coat in shift.coats for one in coat.strokes] + list(shift.idle)
    on = {f"{BOOTH}/gun-{n}": np.zeros(shift.end - start + TICK_S + 1, bool) for n in (1, 2)}
    for one in pulls:
        on[f"{BOOTH}/{one.gun}"][one.start - start : one.end - start] = True
    for second in range(start, shift.end + 1, TICK_S):
        now = shift.midnight + second * SECOND
        messages: list[Message] = []
        while events and events[0][0] <= second:
            messages.append(events.pop(0)[1])
        for point, instrument in instruments.items():
            for each in range(second - start - TICK_S + 1, second - start + 1):
                instrument.follow(GUN_L_MIN if each >= 0 and on[point][each] else 0.0)
            for _, value, _ in instrument.send(second):
                messages.append((f"shop/{point}", {"time": format_time(now), "value": value, "unit": "L/min"}))
        spraying = any(coat.start <= second < coat.end for coat in shift.coats)
        for name, value, unit in (("air-velocity", 0.5, "m/s"), ("mode", "spray" if spraying else "flash", "")):
            messages.append((f"shop/{BOOTH}/{name}", {"time": format_time(now), "value": value, "unit": unit}))
        yield now, messages


def _events(shift: Crowded) -> Iterator[tuple[int, Message]]:
    """Who presses what when: (second at which it arrives, message)."""
    dice = Random(f"crowded buttons {shift.seed}")
    first, second = ({"vehicle": van, "guns": [f"gun-{n}"]} for n, van in enumerate(VANS, 1))
    yield _event(shift, 6 * 3600 + 5, "job-open", vehicle=VANS[0], process="standard")
    yield _event(shift, 6 * 3600 + 5, "job-open", vehicle=VANS[1], process="standard")
    yield _event(shift, 6 * 3600 + 10, "load", vans=[first])
    yield _event(shift, shift.shared[0], "load", vans=[first, second])
    yield _event(shift, shift.shared[1], "load", vans=[second])
    yield _event(shift, shift.end - 5 * MINUTE, "load", vans=[])
    for coat in shift.coats:
        about = {"vehicle": coat.vehicle, "step": coat.step}
        moments = {"step-start": coat.start - dice.randint(4, 12), "step-end": coat.end + dice.randint(4, 12)}
        for button, moment in moments.items():
            if button in coat.entered:
                yield _event(shift, moment, button, **about)
            elif coat.answers and shift.is_shared(coat.start):
                true = coat.start if button == "step-start" else coat.end
                yield _event(shift, true, button, arrives=coat.end + 10 * MINUTE, **about)
    for one in shift.said:
        span = {"from": _time(shift, one.start - 20), "to": _time(shift, one.end + 20)}
        yield _event(shift, one.end + 60, "not-a-coat", **span)


def _event(shift: Crowded, second: int, kind: str, arrives: int | None = None, **body: object) -> tuple[int, Message]:
    identity = str(uuid5(NAMESPACE_URL, f"crowded/{shift.seed}/{kind}/{second}/{body}"))
    whole = {"id": identity, "event": kind, "time": _time(shift, second), "by": "badge-17", **body}
    return (second if arrives is None else arrives), (f"shop/{BOOTH}/event", whole)


def _time(shift: Crowded, second: int) -> str:
    return format_time(shift.midnight + second * SECOND)
