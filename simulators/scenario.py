"""What a scripted shift consists of, as plain data. Times are whole seconds after local midnight unless said."""

from __future__ import annotations

from dataclasses import dataclass, replace

from simulators.measured_air import MeasuredDay
from simulators.weather import Climate


def at(clock: str) -> int:
    """Seconds after midnight of "07:31" or "07:31:20"."""
    hours, minutes, *seconds = clock.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + int(seconds[0] if seconds else 0)


@dataclass(frozen=True)
class Zone:
    """A part of a body's surface; `height_share` as in part.Skin, `work` its share of a coat's time."""

    name: str
    substrate: str
    area_m2: float
    height_share: float
    work: float


@dataclass(frozen=True)
class Body:
    name: str
    process: str
    zones: tuple[Zone, ...]
    probes: dict[str, str]  # point -> zone


@dataclass(frozen=True)
class Coat:
    """One coat, from the first trigger to the last. A helper sprays with gun-2 beside the painter."""

    step: str
    coating: str
    start: int
    minutes: float
    mix: str
    helper: str | None = None
    forgotten: tuple[str, ...] = ()  # buttons that nobody pressed: "step-start", "step-end"


@dataclass(frozen=True)
class Check:
    time: int
    check: str
    by: str
    result: str = "passed"
    values: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Film:
    """A dry-film reading taken at the inspection."""

    zone: str
    value: str
    gauge: str


@dataclass(frozen=True)
class Visit:
    """One van's day. Times that are None lie beyond the end of the shift."""

    vehicle: str
    body: Body
    booth: str
    painter: str
    opened: int
    loaded: int
    checks: tuple[Check, ...]
    coats: tuple[Coat, ...]
    purge: int | None = None
    bake: int | None = None
    cool: int | None = None
    cooled: int | None = None
    unloaded: int | None = None
    films: tuple[Film, ...] = ()
    said_probes: dict[str, str] | None = None  # what people say of the probes, where that isn't so: two of them swapped


@dataclass(frozen=True)
class Mix:
    time: int
    mix: str
    coating: str
    by: str
    lots: tuple[tuple[str, str], ...]
    litres: float | None = None  # nobody entered how much


@dataclass(frozen=True)
class Setting:
    """From `time` on, the controller of `place` (a booth, mask-room, mix-room) holds `temperature_c`."""

    time: int
    place: str
    temperature_c: float


@dataclass(frozen=True)
class Burst:
    """A gun's air flows, but nothing is painted: dust is blown off."""

    booth: str
    gun: str
    start: int
    seconds: int


@dataclass(frozen=True)
class Note:
    time: int
    booth: str
    vehicle: str
    by: str
    text: str


@dataclass(frozen=True)
class Care:
    """Something that was done for a booth some days before the shift, and is entered before it begins."""

    days_before: int
    booth: str
    event: str
    by: str
    body: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Fault:
    """What is wrong with one instrument while start <= second < end.

    kind    silent    nothing is sent
            stuck     the last value is sent again and again
            bias      the value is `amount` too high
            drift     the value climbs by `amount` per hour
            clock     the time sent is `amount` seconds ahead (negative: behind)
            doubled   a message is sent twice, with probability `amount`
            late      a message comes one to three ticks later, with probability `amount`
    """

    point: str  # "north/humidity"
    kind: str
    start: int
    end: int
    amount: float = 0.0


@dataclass(frozen=True)
class Booth:
    name: str
    dust_load_per_m3: float  # how fast the intake filter loads, as a share of its clean resistance


@dataclass(frozen=True)
class Miss:
    """What must come out as missed or unproven, in words."""

    vehicle: str
    step: str
    requirement: str
    verdict: str
    words: str


@dataclass(frozen=True)
class Scenario:
    """A whole shift. `midnight` is local midnight in microseconds UTC; moving it moves the shift."""

    name: str
    midnight: int
    start: int
    end: int
    climate: Climate | MeasuredDay  # invented weather, or a day that a station measured
    booths: tuple[Booth, ...]
    visits: tuple[Visit, ...]
    mixes: tuple[Mix, ...]
    settings: tuple[Setting, ...]
    calibrated_until: str
    calibrated_by: str
    faults: tuple[Fault, ...] = ()
    bursts: tuple[Burst, ...] = ()
    notes: tuple[Note, ...] = ()
    care: tuple[Care, ...] = ()
    misses: tuple[Miss, ...] = ()

    def starting_at(self, time: int) -> Scenario:
        """The same shift moved so that its first tick falls on `time` (microseconds UTC)."""
        return replace(self, midnight=time - self.start * 1_000_000)

    def under(self, day: MeasuredDay) -> Scenario:
        """The same shift, its date too, with the outside air of a measured day."""
        return replace(self, name=f"{self.name}, under the air of {day.station} on {day.date}", climate=day)
