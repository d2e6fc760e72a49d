"""A simulated shift played through the logger: quickly in memory, or the whole way in, through JSON and a store on disk."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from itertools import chain

from booth.clocks import TickClock
from booth.intake import take
from booth.logger import Logger
from booth.looker import Looker
from booth.readers.decode import decode
from booth.readers.points import PointMap
from booth.shop.shop import Shop
from booth.store import Reading, Store
from booth.times import MINUTE, parse_time
from booth.wiring import point_map

Message = tuple[str, dict]
Tick = tuple[int, list[Message]]

LOOK_EVERY_US = 15 * MINUTE
"""What an alarm says and a finding don't depend on when somebody looks (tests/app/test_watch_alarms.py)."""

AFTER_US = 5 * MINUTE  # until what waits for late readings is judged as well


class Played:
    """A shift on its way through the logger. `looks`: moments at which it looks besides; `beside` is called after each look."""

    def __init__(
        self,
        shop: Shop,
        store: Store,
        looks: Iterable[int] = (),
        restarts: Sequence[int] = (),
        beside: Callable[[int, Looker], None] = lambda _now, _looker: None,
    ) -> None:
        self.shop, self.store = shop, store
        self._clock, self._beside = TickClock(), beside
        self._looks, self._restarts = frozenset(looks), list(restarts)
        self._logger: Logger | None = None
        self._next_look = 0

    def run(self, ticks: Iterable[Tick], keep: Keep) -> int:
        """Everything that was sent; returns the moment as of which all of it is judged."""
        now = 0
        for now, messages in ticks:
            self._clock.set(now)
            if self._logger is None or (self._restarts and now >= self._restarts[0]):
                self._restart(keep, now)
            keep.take(messages, now)
            if now >= self._next_look or now in self._looks:
                self._look(keep, now)
        self._look(keep, now + AFTER_US)
        return now + AFTER_US

    def _restart(self, keep: Keep, now: int) -> None:
        """The first start too. What was kept is in the store; nothing else outlives a logger."""
        if self._logger is not None:
            keep.readings()
            self._restarts.pop(0)
        self._logger = Logger(self.shop, self.store, self._clock)
        self._logger.watch  # noqa: B018 -- made when the clock is known, as the loop does

    def _look(self, keep: Keep, now: int) -> None:
        self._logger.watch.add(keep.readings())
        self._logger.look(now)
        self._beside(now, self._logger.watch)
        self._next_look = max(self._next_look, now - now % LOOK_EVERY_US + LOOK_EVERY_US)


class Keep:
    """Into the store message by message, as in earnest."""

    def __init__(self, shop: Shop, store: Store) -> None:
        self.points: PointMap = point_map(shop)
        self.store = store
        self._kept: list[Reading] = []

    def take(self, messages: Sequence[Message], now: int) -> None:
        outcomes = chain.from_iterable(self.decoded(topic, body, now) for topic, body in messages)
        self._kept += take(self.store, outcomes, now, "mqtt").readings

    def readings(self) -> tuple[Reading, ...]:
        """What was kept since the last call, and is in the store by now."""
        kept, self._kept = tuple(self._kept), []
        return kept

    def decoded(self, topic: str, body: dict, now: int) -> tuple:
        return decode(topic, json.dumps(body).encode(), now, self.points)


class QuickKeep(Keep):
    """The same without JSON, and with one commit for all readings between two looks: a million of them cost seconds, not minutes.

    Whatever is out of the ordinary, and every event, still goes the whole way.
    """

    def __init__(self, shop: Shop, store: Store, odd: Iterable[str] = ()) -> None:
        super().__init__(shop, store)
        self._waiting: list[Reading] = []
        self._odd = frozenset(odd)  # points whose readings may come twice or contradict each other
        self._odd_waiting: list[Reading] = []
        self._times: dict[str, int] = {}

    def take(self, messages: Sequence[Message], now: int) -> None:
        unusual = []
        for topic, body in messages:
            reading = self._reading(topic.removeprefix("shop/"), body, now)
            if reading is None:
                unusual.append((topic, body))
            else:
                (self._odd_waiting if reading.point in self._odd else self._waiting).append(reading)
        if unusual:
            super().take(unusual, now)

    def readings(self) -> tuple[Reading, ...]:
        fresh = (*self._waiting, *self._odd_waiting)
        self.store.readings.append(self._waiting)
        self.store.readings.append(self._odd_waiting)
        self._waiting, self._odd_waiting = [], []
        return (*super().readings(), *fresh)

    def _reading(self, point: str, body: dict, now: int) -> Reading | None:
        """As decoding gives it; None where that must look closer."""
        spec = self.points.points.get(point)
        if spec is None or body["unit"] != spec.unit:
            return None
        time, sent = self._time(body["time"]), body["value"]
        if time > now or now - time > MINUTE:
            return None
        value = float(spec.words.index(sent)) if spec.words else float(sent) * spec.factor + spec.offset
        if not spec.low <= value <= spec.high:
            return None
        return Reading(point, time, now, str(sent), body["unit"], value, spec.mapping)

    def _time(self, text: str) -> int:
        time = self._times.get(text)
        if time is None:
            if len(self._times) > 1000:
                self._times.clear()
            time = self._times[text] = parse_time(text)
        return time
