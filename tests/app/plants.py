"""A short made-up shift out of the simulator: one van in the south booth, with everything that the logger hears about it.

The physics and the people are those of the demonstration; only the messages of one booth and one van are used, so that a whole
shift through logger and store costs seconds.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from booth.clocks import TickClock
from booth.logger import Logger
from booth.readers.received import Received
from booth.reports.record import build_record, judge_vehicle
from booth.shop.shop import Shop, load_shop, read_files
from booth.store import Store
from booth.times import SECOND, parse_time

CONFIG = Path(__file__).parents[2] / "config"
VAN = "TV-4102"
END = parse_time("2026-07-13T13:58:00Z")
LOOK_EVERY = 60 * SECOND

Message = tuple[int, str, dict]  # the tick that it arrived with, its topic, its payload


@cache
def demo_shop() -> Shop:
    return load_shop(read_files(CONFIG))


@cache
def shift_of_one_van(seed: int = 1) -> tuple[Message, ...]:
    """Every message of the south booth and the mix room, and the events of one van, in order."""
    from simulators.plant import Plant
    from simulators.tern_valley import TERN_VALLEY

    plant = Plant(seed, TERN_VALLEY)
    found = []
    for tick, messages in plant.messages():
        if tick > END:
            break
        found += [(tick, topic, body) for topic, body in messages if _concerns(topic, body)]
    return tuple(found)


def _concerns(topic: str, body: dict) -> bool:
    if topic.endswith("/event"):
        vans = [van["vehicle"] for van in body.get("vans", [])]
        about = body.get("vehicle")
        return about == VAN or VAN in vans or (about is None and topic.startswith(("shop/south", "shop/mix")))
    return topic.startswith("shop/south/") or topic == "shop/mix-room/pot-1"


class Ears:
    """A notifier that remembers what it was told."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, dict]] = []

    def alarm(self, topic: str, message: dict) -> None:
        self.heard.append((topic, message))

    def of_the_work(self) -> list[dict]:
        """All but the care that nobody ever entered: a made-up shop has no past, and each play would hear of that first."""
        return [message for _, message in self.heard if not message["requirement"].startswith("care:")]


def received(topic: str, body: dict, arrived: int) -> Received:
    return Received(topic, json.dumps(body).encode(), arrived, 1, None, False)


def play(store: Store, batches, shop: Shop | None = None, ears: Ears | None = None, look_every: int = LOOK_EVERY) -> Logger:
    """Feed (now, [(topic, body), …]) batches through a logger; look as time passes, and once more well after the end."""
    clock = TickClock()
    logger = Logger(shop or demo_shop(), store, clock, [ears] if ears else [])
    next_look = 0
    for now, messages in batches:
        clock.set(now)
        logger.watch  # noqa: B018 -- made when the clock is known, as the loop does
        logger.handle([received(topic, body, now) for topic, body in messages], now, lambda _message: None)
        if now >= next_look:
            logger.look(now)
            next_look = now + look_every
    logger.look(clock.now())
    return logger


def final_findings(store: Store, vehicle: str = VAN, as_of: int = END + 300 * SECOND) -> dict[str, tuple]:
    """What the record says of each requirement, without what depends on when it was written down."""
    record = build_record(judge_vehicle(demo_shop(), store, vehicle, as_of))
    found = {}
    for round_ in record["rounds"]:
        for one in [*round_["findings"], *(finding for step in round_["steps"] for finding in step["findings"])]:
            kept = {key: value for key, value in one.items() if key not in ("as_issued",)}
            found[f"{round_['round']}/{one['requirement']}"] = json.dumps(kept, sort_keys=True)
    return found
