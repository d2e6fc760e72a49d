"""A stage for short plays: a logger over a store, a clock that is set by hand, events and readings by the second."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from plants import Ears, demo_shop, received

from booth.clocks import TickClock
from booth.judge.series import Series
from booth.live_readings import LiveReadings
from booth.logger import Logger
from booth.shop.shop import Shop
from booth.store import Reading, Store
from booth.times import HOUR, MINUTE, SECOND, format_time, parse_time

START = parse_time("2026-07-13T12:00:00Z")
LATEST = 1800  # two-pack clear: the bake starts 10 to 30 min after the last coat
BAKE_START = "V-1/1/bake/bake_start"
GOOD = {
    "air-temperature": (23.0, "degC"),
    "humidity": (45.0, "percent"),
    "air-velocity": (0.5, "m/s"),
    "booth-pressure": (3.0, "Pa"),
    "exhaust-flow": (22.0, "m^3/s"),
    "part-1": (23.0, "degC"),
    "gun-1": (0.0, "L/min"),
    "gun-2": (0.0, "L/min"),
}


def at(second: float) -> int:
    return START + round(second * SECOND)


class Stage:
    """`say` and `measure` put messages in; `look` lets the logger judge. Everything by seconds since START."""

    def __init__(self, store: Store, shop: Shop | None = None, begin: float = -60) -> None:
        self.store, self.ears, self.clock = store, Ears(), TickClock(at(begin))
        self.shop = shop or demo_shop()
        self.logger = Logger(self.shop, store, self.clock, [self.ears])
        self.watch = self.logger.watch

    def restart(self) -> None:
        """As after a crash: all that isn't in the store is gone."""
        now = self.clock.now()
        self.logger, self.clock = Logger(self.shop, self.store, self.clock, [self.ears]), self.clock
        self.watch = self.logger.watch
        assert self.clock.now() == now

    def say(self, second: float, kind: str, booth: str = "south", now: float | None = None, **facts: object) -> None:
        identity = str(uuid5(NAMESPACE_URL, f"{booth}/{kind}/{second}/{facts}"))
        body = {"id": identity, "event": kind, "time": format_time(at(second)), "by": "badge-17", **facts}
        self._take(second if now is None else now, [(f"shop/{booth}/event", body)])

    def measure(self, second: float, booth: str = "south", now: float | None = None, **values: object) -> None:
        """Readings of points; an underscore stands for a hyphen, None for silence."""
        sent = []
        for name, value in values.items():
            point = name.replace("_", "-")
            if value is not None:
                unit = GOOD.get(point, (0, ""))[1]
                sent.append((f"shop/{booth}/{point}", {"time": format_time(at(second)), "value": value, "unit": unit}))
        self._take(second if now is None else now, sent)

    def air(self, seconds: Iterable[int], mode: str, look: bool = True, booth: str = "south", **other: object) -> None:
        """Good readings of every point, but for those named otherwise; a callable gets the second."""
        for second in seconds:
            values = {name.replace("-", "_"): value for name, (value, _) in GOOD.items()} | {"mode": mode} | other
            told = {name: value(second) if callable(value) else value for name, value in values.items()}
            self.measure(second, booth, **told)
            if look:
                self.look(second)

    def look(self, second: float) -> list:
        self.clock.set(at(second))
        return self.logger.look(at(second))

    def alarms(self, part: str = "") -> list[tuple[str, str, float, str]]:
        """What the journal says of the alarms whose id has this in it: (id, new state, second, priority)."""
        return [
            (e.body["alarm"], e.body["to"], (e.effective - START) / SECOND, e.body["condition"]["priority"])
            for e in self.store.journal.entries(kinds=["alarm"])
            if part in e.body["alarm"]
        ]

    def told(self) -> list[tuple[str, str, str, float]]:
        """Steps that the instruments told of: (channel, kind, step, second)."""
        return [
            (e.channel, e.kind, e.body["step"], (e.effective - START) / SECOND)
            for e in self.store.journal.entries(kinds=["step-start", "step-end"])
            if e.channel in ("signalled", "inferred")
        ]

    def _take(self, now: float, messages: list[tuple[str, dict]]) -> None:
        self.clock.set(at(now))
        batch = [received(topic, body, at(now)) for topic, body in messages]
        self.logger.handle(batch, at(now), lambda _message: None)


def live_after(point: str, readings: list[tuple[int, float]]) -> Series:
    """What is known after readings came in this order, three at a time."""
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder), writer=True) as store:
        live = LiveReadings(store.readings, START - HOUR)
        live.latest(point)
        for first in range(0, len(readings), 3):
            batch = [Reading(point, time, START, str(value), "L/min", value, 1) for time, value in readings[first : first + 3]]
            store.readings.append(batch)
            live.add(batch)
        return live.evidence(point, START - MINUTE, 2**62, 15 * SECOND)


def van(vehicle: str = "V-1", **probes: str) -> dict:
    return {"vehicle": vehicle, "guns": ["gun-1"], "probes": {name.replace("_", "-"): zone for name, zone in probes.items()}}


def open_job(stage: Stage, second: float = -50, vehicle: str = "V-1", process: str = "standard", loaded: bool = True) -> None:
    stage.say(second, "job-open", vehicle=vehicle, process=process)
    if loaded:
        stage.say(second, "load", vans=[van(vehicle, part_1="lower")])


def spray(stage: Stage, *spells: tuple[int, int], until: int, since: int = -30, gun: str = "gun_1") -> None:
    """A gun that is on in each of some spells, and a logger that looks every five seconds."""
    for second in range(since, until, 5):
        on = any(first <= second < past for first, past in spells)
        stage.measure(second, air_velocity=0.5, **{gun: 300 if on else 0})
        stage.look(second)


def one_coat(stage: Stage, end: int = 300) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-2")
    stage.say(end, "step-end", vehicle="V-1", step="clear-2")


def two_vans(stage: Stage) -> None:
    """V-1 and V-2 in the booth together."""
    open_job(stage, loaded=False)
    open_job(stage, vehicle="V-2", loaded=False)
    stage.say(-40, "load", vans=[van(), {"vehicle": "V-2", "guns": ["gun-2"]}])
