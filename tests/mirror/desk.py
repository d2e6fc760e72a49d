"""A mirror that a test takes step by step, and what should be, and is, in the server. All names and values are made up."""

from __future__ import annotations

import time
from collections.abc import Iterable
from pathlib import Path

from booth.mirror.arrivals import Arrivals
from booth.mirror.memory import Memory
from booth.mirror.mirror import Mirror
from booth.mirror.server import Server
from booth.mirror.settings import Settings
from booth.store import Draft, Reading, Store
from booth.times import SECOND, format_time, parse_time
from tests.mirror.peers import Influxd
from tests.mirror.shim import TOKEN

START = parse_time("2024-07-15T11:00:00Z")  # long past: one of the servers drops what lies in the future
NOW = parse_time("2024-07-15T18:00:00Z")
POINTS = ("north/air-temperature", "north/humidity", "south/part-1")
MEASURES = ("air_temperature", "relative_humidity", "part_temperature")
UNITS = ("degC", "percent", "degC")
SITE = "Tern Valley Mobile Clinics"

Row = tuple[str, int, float]


def settings_for(url: str, token: str = TOKEN, bucket: str = "booths") -> Settings:
    points = {name: {"measure": measure, "unit": unit} for name, measure, unit in zip(POINTS, MEASURES, UNITS, strict=True)}
    return Settings(url, "shop", bucket, token, SITE, None, points)


class Desk:
    """Opens everything that a mirror needs; `restart` is what a killed and started mirror does."""

    def __init__(self, directory: Path, url: str, timeout_s: float = 10.0, **settings: str) -> None:
        self.directory, self.timeout_s = directory, timeout_s
        self.settings = settings_for(url, **settings)

    def __enter__(self) -> Desk:
        self.memory = Memory(self.directory, writer=True)
        self.arrivals = Arrivals(self.directory)
        self.server = Server(self.settings, self.timeout_s)
        self.mirror = Mirror(self.settings, self.arrivals, self.memory, self.server, lambda: NOW)
        return self

    def __exit__(self, *_: object) -> None:
        self.server.close()
        self.arrivals.close()
        self.memory.close()

    def restart(self) -> None:
        self.__exit__()
        self.__enter__()

    def run(self, seconds: float = 20.0) -> None:
        """Turn until a turn finds nothing more to do; a wait of hours takes none here."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.mirror.attempt()
            if self.memory.state().problem is None and not self.waiting():
                return self.look_back()
            time.sleep(0.02)
        raise AssertionError(f"still behind after {seconds} s: {self.memory.state()}, {self.waiting()} waiting")

    def look_back(self) -> None:
        """One whole look at the past for late readings, begun after now; the mirror spreads it over many turns."""
        for _ in range(2):
            self.mirror.attempt()
            while self.mirror._days:
                self.mirror.attempt()

    def waiting(self) -> int:
        """Readings newer than what was sent, and journal entries not dealt with."""
        newer = sum(self.arrivals.waiting(name, self.memory.places.get(name, 0))[0] for name in self.arrivals.points())
        return newer + self.arrivals.store.journal.head().entries - self.memory.state().entries


def reading(point: str, moment: int, value: float) -> Reading:
    unit = UNITS[POINTS.index(point)] if point in POINTS else ""
    return Reading(point, moment, moment + 40_000, f"{value:.1f}", unit, value, 1)


def fill(store: Store, seconds: Iterable[int], points: Iterable[str] = POINTS) -> None:
    """One reading a second of each point, none like the one before."""
    store.readings.append(
        [
            reading(point, START + second * SECOND + 250_000 + number, round(20 + number + second % 97 / 10, 1))
            for second in seconds
            for number, point in enumerate(points)
        ]
    )


def finding(vehicle: str, step: str = "clear-1", verdict: str = "missed", at: int = START, **more: object) -> Draft:
    body = {
        "vehicle": vehicle,
        "round": 1,
        "step": step,
        "start": format_time(at - 600 * SECOND),
        "end": format_time(at),
        "points": ["north/air-temperature"],
        "evidence_sha256": "0" * 64,
        "findings": [
            {"requirement": f"{step}/air_temperature", "verdict": verdict, "sentence": 'Made up, "quoted", = and so on.'},
            {"requirement": f"{step}/humidity", "verdict": "met", "sentence": "Made up\nin two lines."},
        ],
    }
    return Draft("finding", body | more, at, at, "logger")


def alarm(vehicle: str, state: str = "unacknowledged", at: int = START) -> Draft:
    condition = {"booth": "north", "step": "bake", "priority": "alarm", "vehicle": vehicle, "sentence": "Made up: late."}
    body = {"alarm": f"{vehicle}/1/bake/bake_start", "from": "normal", "to": state, "at": format_time(at), "cause": "appear"}
    return Draft("alarm", body | {"condition": condition}, at, at, "logger", private={"by": "badge-17"})


def held(store: Store) -> list[Row]:
    """Every reading of the store."""
    return sorted(
        (one.point, one.time, one.value) for point in store.readings.counts() for one in store.readings.rows(point, 0, 2**62)
    )


def mirrored(influxd: Influxd) -> list[Row]:
    """Every reading of the server, from nanoseconds back to microseconds."""
    rows = influxd.query("SELECT value, point, booth FROM booth_reading")
    return sorted((f"{row['booth']}/{row['point']}", row["time"] // 1000, float(row["value"])) for row in rows)
