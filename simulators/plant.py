"""The whole shop, one second at a time: physics, people and instruments joined. Pure computation, no network."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator

from booth.times import SECOND, format_time
from simulators.instruments import TICK_S, Instrument
from simulators.measured_air import MeasuredAir, MeasuredDay
from simulators.paint_booth import PaintBooth, Van
from simulators.people import MESSAGE, Acknowledger, Script
from simulators.rooms import Room
from simulators.scenario import Scenario
from simulators.spraying import Stroke
from simulators.weather import Outside, Weather

BOOTH_POINTS = (
    "air-temperature", "humidity", "air-velocity", "booth-pressure", "exhaust-flow", "filter-drop",
    "part-1", "part-2", "part-3", "gun-1", "gun-2", "mode",
)  # fmt: skip
ROOM_POINTS = {
    "mask-room": ("air-temperature", "humidity"),
    "mix-room": ("air-temperature", "humidity", "pot-1", "barometer"),
}
WARM_UP_S = 900  # simulated in silence before the shift, so that nothing starts from a made-up state
STILL_AIR_M_S = 0.1  # in the mask room


def _by_second(strokes: list[Stroke]) -> dict[int, list[Stroke]]:
    """The openings of guns that there are in each second: they are asked for once a second."""
    open_in: dict[int, list[Stroke]] = defaultdict(list)
    for stroke in strokes:
        for second in range(stroke.start, stroke.end):
            open_in[second].append(stroke)
    return dict(open_in)


def _settings(place: str, scenario: Scenario) -> tuple[list[int], list[float]]:
    """When a place's setpoint changes, and to what."""
    own = sorted((one for one in scenario.settings if one.place == place), key=lambda one: one.time)
    return [one.time for one in own], [one.temperature_c for one in own]


class Plant:
    """`Plant(seed, scenario)`; `tick(time)` for every time of `times()`, in order, gives the messages of that tick.

    A message is (topic, payload dictionary). `acknowledger.heard(topic, message)` takes alarms. The plant's attributes
    hold what is true after the last tick; simulators.truth writes it down.
    """

    def __init__(self, seed: int, scenario: Scenario) -> None:
        self.seed = seed
        self.scenario = scenario
        air = MeasuredAir if isinstance(scenario.climate, MeasuredDay) else Weather
        self.weather = air(seed, scenario.climate)
        self.booths = {booth.name: PaintBooth(booth) for booth in scenario.booths}
        self.rooms = {name: Room.seeded(name, seed) for name in ROOM_POINTS}
        self._settings = {place: _settings(place, scenario) for place in (*self.booths, *self.rooms)}
        self.vans = [Van(visit, self._setpoint("mask-room", 0)) for visit in scenario.visits]
        self._named = {place: [(point, f"{place}/{point}") for point in BOOTH_POINTS] for place in self.booths}
        self._named |= {place: [(point, f"{place}/{point}") for point in names] for place, names in ROOM_POINTS.items()}
        points = [full for named in self._named.values() for _, full in named]
        self.script = Script(seed, scenario, points)
        self.acknowledger = Acknowledger(self.script)
        self.instruments = [Instrument.seeded(point, seed, scenario.faults) for point in points]
        self.outside: Outside = self.weather.at(scenario.start)
        self.true: dict[str, float | str] = {}  # by point
        self._strokes = {booth: _by_second(strokes) for booth, strokes in self.script.guns.items()}
        self._next_event = 0
        self._late: dict[int, list[MESSAGE]] = defaultdict(list)
        self._second = scenario.start - WARM_UP_S
        while self._second < scenario.start:
            self._advance()

    def times(self) -> Iterator[int]:
        """Every tick of the shift, microseconds UTC, from its start to its end."""
        for second in range(self.scenario.start, self.scenario.end + 1, TICK_S):
            yield self.scenario.midnight + second * SECOND

    def messages(self) -> Iterator[tuple[int, list[MESSAGE]]]:
        """The whole shift: (time of the tick, its messages)."""
        for time in self.times():
            yield time, self.tick(time)

    def tick(self, time: int) -> list[MESSAGE]:
        """What people did since the last tick, then the readings. Raises ValueError for a tick out of order."""
        second = (time - self.scenario.midnight) // SECOND
        if not self._second <= second <= self._second + TICK_S:
            raise ValueError(f"tick {format_time(time)} doesn't follow the last one; give the times of Plant.times() in order")
        while self._second < second:
            self._advance()
        messages = self._events_until(second)
        messages += self.acknowledger.tick(second, {name: booth.open for name, booth in self.booths.items()})
        messages += self._late.pop(second, [])
        times: dict[float, str] = {}  # most instruments stamp the same moment
        for instrument in self.instruments:
            messages += self._readings(instrument, second, times)
        return messages

    def _advance(self) -> None:
        """One second of the whole shop."""
        self._second += 1
        second = self._second
        self.outside = outside = self.weather.at(second)
        for name, room in self.rooms.items():
            room.step(1.0, second, outside, self._setpoint(name, second))
        hall_c = self.rooms["mix-room"].temperature_c
        for name, booth in self.booths.items():
            van = next((v for v in self.vans if v.visit.booth == name and v.in_booth(second)), None)
            mode, strokes = self.script.mode(name, second), self._open_guns(name, second)
            booth.step(mode, van, strokes, self._setpoint(name, second), outside, hall_c)
        waiting = self.rooms["mask-room"]
        for van in self.vans:
            if second < van.visit.loaded:
                van.step(waiting.temperature_c, waiting.humidity_ratio, outside.pressure_pa, STILL_AIR_M_S)
        self.true = self._values()
        for instrument in self.instruments:
            instrument.follow(self.true[instrument.point])

    def _setpoint(self, place: str, second: int) -> float:
        """The setpoint that came into force last."""
        moments, temperatures = self._settings[place]
        return temperatures[bisect_right(moments, second) - 1]

    def _open_guns(self, booth: str, second: int) -> list[Stroke]:
        return self._strokes[booth].get(second, [])

    def _values(self) -> dict[str, float | str]:
        """The true value of every point."""
        pressure = self.outside.pressure_pa
        values: dict[str, float | str] = {}
        for name, place in (*self.booths.items(), *self.rooms.items()):
            known = place.values(pressure)
            for point, full in self._named[name]:
                values[full] = known[point]
        return values

    def _events_until(self, second: int) -> list[MESSAGE]:
        events, first = self.script.events, self._next_event
        while self._next_event < len(events) and events[self._next_event].second <= second:
            self._next_event += 1
        return [(event.topic, event.body) for event in events[first : self._next_event]]

    def _readings(self, instrument: Instrument, second: int, times: dict[float, str]) -> list[MESSAGE]:
        now = []
        for stamped, value, delay in instrument.send(second):
            if stamped not in times:
                times[stamped] = format_time(self.scenario.midnight + round(stamped * SECOND))
            message = (f"shop/{instrument.point}", {"time": times[stamped], "value": value, "unit": instrument.kind.unit})
            if delay:
                self._late[second + delay * TICK_S].append(message)
            else:
                now.append(message)
        return now
