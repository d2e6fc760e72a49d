"""Short plays for the painter's page: a logger over a store, events and readings by the second, and a board that looks on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from booth.clocks import TickClock
from booth.logger import Logger
from booth.shop.shop import Shop
from booth.store import Store
from booth.times import MINUTE, SECOND, format_time, parse_time
from booth.web.painter.live import Eyes
from tests.app.plants import Ears, demo_shop, received

START = parse_time("2026-07-13T12:00:00Z")
BOOTH = "south"
EVERY_S = 5
GOOD = {
    "air-temperature": (23.4, "degC"),
    "humidity": (48.0, "percent"),
    "air-velocity": (0.48, "m/s"),
    "booth-pressure": (3.0, "Pa"),
    "exhaust-flow": (22.0, "m^3/s"),
    "part-1": (23.0, "degC"),
    "part-2": (23.2, "degC"),
    "gun-1": (0.0, "L/min"),
    "gun-2": (0.0, "L/min"),
    "mode": ("spray", ""),
}


def at(second: float) -> int:
    return START + round(second * SECOND)


class Play:
    """`say` and `air` put messages in, `look` lets the logger judge; everything by seconds since START."""

    def __init__(self, store: Store, vehicle: str = "TV-4117", shop: Shop | None = None, begin: float = -60) -> None:
        self.store, self.vehicle, self.shop, self.ears = store, vehicle, shop or demo_shop(), Ears()
        self.clock = TickClock(at(begin))
        self.logger = Logger(self.shop, store, self.clock, [self.ears])
        self.now = begin
        self._watch = self.logger.watch

    def say(self, second: float, kind: str, **facts: Any) -> None:
        identity = str(uuid5(NAMESPACE_URL, f"{kind}/{second}/{facts}"))
        body = {"id": identity, "event": kind, "time": format_time(at(second)), "by": "badge-17", **facts}
        self._take(second, [(f"shop/{BOOTH}/event", body)])

    def step(self, second: float, kind: str, step: str, **facts: Any) -> None:
        self.say(second, kind, vehicle=self.vehicle, step=step, **facts)

    def air(self, start: int, end: int, every: int = EVERY_S, **other: Any) -> None:
        """Good readings of every point, but for those named otherwise: a value, None for silence, or a function of the second."""
        for second in range(start, end, every):
            messages = []
            for point, (good, unit) in GOOD.items():
                told = other.get(point.replace("-", "_"), good)
                value = told(second) if isinstance(told, Callable) else told
                if value is not None:
                    body = {"time": format_time(at(second)), "value": value}
                    messages.append((f"shop/{BOOTH}/{point}", body | ({"unit": unit} if unit else {})))
            self._take(second, messages)
            self.look(second)

    def look(self, second: float) -> None:
        self._go_to(second)
        self.logger.look(at(second))

    def open(self, second: float = -50, process: str = "standard", **van: Any) -> None:
        self.say(second, "job-open", vehicle=self.vehicle, process=process)
        probes = {"part-1": "lower", "part-2": "sills"}
        self.say(second, "load", vans=[{"vehicle": self.vehicle, "guns": ["gun-1"], "probes": probes} | van])

    def eyes(self, store: Store) -> Eyes:
        """The board's eyes on a connection of their own, by the newest arrival."""
        return Eyes(self.shop, store, TickClock(self.clock.now()))

    def _take(self, second: float, messages: list[tuple[str, dict]]) -> None:
        self._go_to(second)
        batch = [received(topic, body, at(second)) for topic, body in messages]
        self.logger.handle(batch, at(second), lambda _message: None)

    def _go_to(self, second: float) -> None:
        self.now = max(self.now, second)
        self.clock.set(at(second))


def spraying(play: Play) -> None:
    """Two minutes into the base coat, everything as it should be."""
    play.open()
    play.step(0, "step-start", "base-1", mix="B-7")
    play.air(0, 120, gun_1=300)


def flashing(play: Play) -> None:
    """The base coat ended two minutes ago; the fan has run since."""
    spraying(play)
    play.air(120, 400, gun_1=300)
    play.step(400, "step-end", "base-1")
    play.air(400, 520, mode="flash")


def waiting_for_the_bake(play: Play, minutes: float) -> None:
    """The last clear coat ended so many minutes ago, and no bake has begun. It may start after 10 and must within 30."""
    play.open()
    play.step(0, "step-start", "clear-2", mix="C-9")
    play.air(0, 300, gun_1=280)
    play.step(300, "step-end", "clear-2")
    play.air(300, 300 + round(minutes * 60), every=10, mode="flash")


def closing(play: Play) -> None:
    waiting_for_the_bake(play, 27)


def missed(play: Play) -> None:
    waiting_for_the_bake(play, 32.5)


def damp(play: Play) -> None:
    """Humidity far above the coat's limit while the gun is on."""
    spraying(play)
    play.air(120, 300, gun_1=300, humidity=lambda second: 84.0)


def damp_gun_off(play: Play) -> None:
    damp(play)
    play.air(300, 330, humidity=84.0)


def no_air(play: Play) -> None:
    """The gun is on and the fan stops."""
    spraying(play)
    play.air(120, 150, gun_1=300, air_velocity=0.1)


def unheard(play: Play) -> None:
    """The humidity probe falls silent in the middle of the coat."""
    spraying(play)
    play.air(120, 200, gun_1=300, humidity=None)


def two_vans(play: Play) -> None:
    """Two vans in one booth: one is flashing off, the other waits for its first coat."""
    flashing(play)
    play.say(521, "job-open", vehicle="TV-4121", process="high-roof")
    vans = [{"vehicle": play.vehicle, "guns": ["gun-1"], "probes": {"part-1": "lower"}}]
    play.say(521, "load", vans=[*vans, {"vehicle": "TV-4121", "guns": ["gun-2"], "probes": {"part-2": "roof"}}])
    play.air(525, 540, mode="flash")


def untold(play: Play) -> None:
    """A sealer coat that nobody entered, told by the gun, and behind the allowed lateness by now."""
    play.open()
    play.air(0, 150, gun_1=300)
    play.air(150, 450)


def whose(play: Play) -> None:
    """Two vans in one booth, and a coat that nobody entered of either."""
    two_vans(play)
    play.air(540, 1140, gun_2=300)
    play.air(1140, 1400, mode="flash")


SCENES: dict[str, Callable[[Play], None]] = {
    one.__name__: one
    for one in (spraying, flashing, closing, missed, damp, damp_gun_off, no_air, unheard, two_vans, untold, whose)
}


def made(folder: Path, scene: Callable[[Play], None], vehicle: str = "TV-4117") -> TickClock:
    """A store with a scene in it; the clock as the play left it."""
    with Store.open(folder, writer=True) as store:
        play = Play(store, vehicle)
        scene(play)
        return play.clock


__all__ = ["MINUTE", "SCENES", "Play", "at", "made"]
