"""A made-up van and made-up readings for the judge's tests, in minutes from an invented start.

`Van` holds journal entries and readings in memory; `good_van` is one whose every step is as it should be, for tests to spoil.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

import numpy as np

from booth.judge.assess import Assessment, assess, cases, requirements
from booth.judge.evidence import Evidence, Part
from booth.judge.facts import Job, Pass
from booth.judge.finding import Finding
from booth.judge.gather import Case, Gatherer
from booth.judge.judge import judge
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.shop.promises import Promises
from booth.shop.requirement import Requirement
from booth.shop.shop import Shop, load_shop, read_files
from booth.times import MINUTE, SECOND, format_time, parse_time

CONFIG = Path(__file__).resolve().parents[2] / "config"
START = parse_time("2026-07-13T11:00:00Z")
MAX_AGE = 15 * SECOND

Shape = float | Callable[[np.ndarray], np.ndarray]
"""A constant, or a function of minutes."""


def at(minute: float) -> int:
    """A moment, in microseconds."""
    return START + round(minute * MINUTE)


def series(shape: Shape, start: float, end: float, period_s: float = 5, max_age: int = MAX_AGE) -> Series:
    """Readings of a shape over [start, end) minutes."""
    times = np.arange(at(start), at(end), round(period_s * SECOND), np.int64)
    return Series(times, values_of(shape, times), max_age)


def values_of(shape: Shape, times: np.ndarray) -> np.ndarray:
    minutes = (times - START) / MINUTE
    return np.asarray(shape(minutes), float) if callable(shape) else np.full(len(times), float(shape))


def without(readings: Series, start: float, end: float) -> Series:
    """The same with nothing in [start, end) minutes."""
    keep = (readings.times < at(start)) | (readings.times >= at(end))
    return Series(readings.times[keep], readings.values[keep], readings.max_age_us)


def line(*corners: tuple[float, float]) -> Callable[[np.ndarray], np.ndarray]:
    """Straight lines through (minute, value)."""
    minutes, values = zip(*corners, strict=True)
    return lambda moments: np.interp(moments, minutes, values)


def part(shape: Shape | Series, zone: str = "roof", substrate: str = "fibreglass", start: float = 0, end: float = 60) -> Part:
    readings = shape if isinstance(shape, Series) else series(shape, start, end)
    return Part(f"part-{zone}", zone, substrate, readings)


def a_requirement(kind: str, terms: Any, quantity: str, **known: Any) -> Requirement:
    return Requirement(f"step/{kind}", kind, "step", quantity, "made-up sheet", terms, **known)


def span(start: float | None = 0, end: float | None = 20, **known: Any) -> Evidence:
    """Evidence of a step from one minute to another."""
    return Evidence(None if start is None else at(start), None if end is None else at(end), **known)


def a_pass(start: float, end: float | None, zone: str | None = None) -> Pass:
    return Pass(zone, at(start), None if end is None else at(end))


@cache
def shop(*edits: tuple[str, str, str]) -> Shop:
    """The demonstration shop with some texts replaced: (file, old, new)."""
    files = read_files(CONFIG)
    for name, old, new in edits:
        assert old in files[name], f"{old!r} is not in {name}"
        files[name] = files[name].replace(old, new)
    return load_shop(files)


@dataclass(frozen=True)
class MadeUpEntry:
    """A journal entry as far as the fold looks at it."""

    seq: int
    id: str
    kind: str
    effective: int
    channel: str
    body: Mapping[str, Any]
    private: Mapping[str, str | None] = field(default_factory=dict)


class MadeUpReadings:
    """Readings in memory behind the judge's port."""

    def __init__(self) -> None:
        self._points: dict[str, tuple[np.ndarray, np.ndarray]] = {}

    def put(self, point: str, times: np.ndarray, values: np.ndarray) -> None:
        """Further readings, at moments that have none yet."""
        old_times, old_values = self._points.get(point, (np.empty(0, np.int64), np.empty(0)))
        times = np.concatenate((old_times, times))
        order = np.argsort(times)
        self._points[point] = times[order], np.concatenate((old_values, values))[order]

    def all(self) -> Iterable[tuple[str, tuple[np.ndarray, np.ndarray]]]:
        return self._points.items()

    def drop(self, point: str, start: int, end: int) -> None:
        times, values = self._points.get(point, (np.empty(0, np.int64), np.empty(0)))
        keep = (times < start) | (times >= end)
        self._points[point] = times[keep], values[keep]

    def delay(self, begin: int, later: int) -> None:
        """Everything read from a moment on so much later, with the last value before it in between."""
        for point, (times, values) in self._points.items():
            first = int(np.searchsorted(times, begin))
            filled = np.arange(begin, begin + later, 5 * SECOND, np.int64)
            value = values[max(0, first - 1)] if len(values) else 0.0
            self._points[point] = (
                np.concatenate((times[:first], filled, times[first:] + later)),
                np.concatenate((values[:first], np.full(len(filled), value), values[first:])),
            )

    def evidence(self, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        times, values = self._points.get(point, (np.empty(0, np.int64), np.empty(0)))
        first, past = np.searchsorted(times, (start, end))
        if first and start - times[first - 1] <= max_age_us:
            first -= 1
        return Series(times[first:past], values[first:past], max_age_us)


class Van:
    """One van's journal and readings, and what the judge makes of them."""

    def __init__(self, of: Shop, process: str = "standard", booth: str = "north", vehicle: str = "TV-1") -> None:
        self.shop, self.process, self.booth, self.vehicle = of, process, booth, vehicle
        self.entries: list[MadeUpEntry] = []
        self.readings = MadeUpReadings()
        self._numbers = count(1)

    def tell(self, kind: str, minute: float, channel: str = "board", by: str = "badge-17", **body: Any) -> str:
        """Put an event into the journal; returns its id."""
        seq = next(self._numbers)
        private = {name: body.pop(name) for name in ("reason", "text") if name in body} | {"by": by}
        if kind not in ("mix", "load", "calibration", "correction", "not-a-coat", "config"):
            body.setdefault("vehicle", self.vehicle)
        if kind in ("step-start", "step-end", "load", "calibration"):
            body.setdefault("booth", self.booth)
        self.entries.append(MadeUpEntry(seq, f"id-{seq}", kind, at(minute), channel, body, private))
        return f"id-{seq}"

    def step(self, step: str, start: float, end: float | None, **known: Any) -> None:
        """A step that somebody entered."""
        self.tell("step-start", start, step=step, **known)
        if end is not None:
            self.tell("step-end", end, step=step, **{key: known[key] for key in ("zone", "channel") if key in known})

    def forget(self, kind: str, **body: Any) -> None:
        """Take events out of the journal again."""
        self.entries = [
            one for one in self.entries if one.kind != kind or any(one.body.get(key) != value for key, value in body.items())
        ]

    def drop_step(self, step: str) -> None:
        for kind in ("step-start", "step-end"):
            self.forget(kind, step=step)

    def delay(self, step: str, minutes: float) -> None:
        """A step, and everything that was entered after it began, so much later, readings and all; mixes stay."""
        begin = next(one.effective for one in self.entries if one.kind == "step-start" and one.body.get("step") == step)
        later = round(minutes * MINUTE)
        self.entries = [replace(one, effective=one.effective + later) if one.effective >= begin else one for one in self.entries]
        self.readings.delay(begin, later)

    def reads(self, name: str, shape: Shape, start: float, end: float, period_s: float = 5) -> None:
        """Readings of a point over [start, end) minutes, in place of what was there."""
        point = name if "/" in name else f"{self.booth}/{name}"
        self.readings.drop(point, at(start), at(end))
        times = np.arange(at(start), at(end), round(period_s * SECOND), np.int64)
        self.readings.put(point, times, values_of(shape, times))

    def says(self, mode: str, start: float, end: float) -> None:
        words = self.shop.booths[self.booth].points["mode"].words
        self.reads("mode", words.index(mode), start, end)

    def silent(self, name: str, start: float, end: float) -> None:
        self.readings.drop(name if "/" in name else f"{self.booth}/{name}", at(start), at(end))

    def job(self) -> Job:
        return Ledger(self.entries).job(self.vehicle)

    def gatherer(self, minute: float) -> Gatherer:
        return Gatherer(self.shop, Ledger(self.entries), self.readings, at(minute))

    def cases(self) -> list[Case]:
        job = self.job()
        return list(cases(job, self.shop.processes[self.process], job.round))

    def requirement(self, name: str) -> Requirement:
        promises = Promises(self.shop)
        return next(one for case in self.cases() for one in requirements(case, promises) if one.id == name)

    def finding(self, requirement: str, minute: float = 1000) -> Finding | None:
        """What the judge says of one requirement of the latest round, as known at a minute."""
        wanted = self.requirement(requirement)
        case = next(case for case in self.cases() if case.step.step == wanted.step)
        return judge(wanted, self.gatherer(minute).evidence(wanted, case), at(minute))

    def assessment(self, minute: float = 1000) -> Assessment:
        return assess(self.job(), Promises(self.shop), self.gatherer(minute))


GOOD_STEPS = {
    "sealer": (0, 14, "M-1"),
    "base-1": (39, 53, "M-2"),
    "clear-1": (70, 84, "M-3"),
    "clear-2": (94, 108, "M-3"),
    "purge": (112, 115, None),
    "bake": (120, 175, None),
    "cool": (175, 190, None),
}
GOOD_MODES = (
    ("idle", -15, 0),
    ("spray", 0, 14),
    ("flash", 14, 39),
    ("spray", 39, 53),
    ("flash", 53, 70),
    ("spray", 70, 84),
    ("flash", 84, 94),
    ("spray", 94, 108),
    ("flash", 108, 112),
    ("purge", 112, 115),
    ("idle", 115, 120),
    ("bake", 120, 175),
    ("cool", 175, 190),
    ("idle", 190, 210),
)
BAKED = line((-15, 23), (120, 23), (134, 65), (175, 65), (188, 30), (210, 30))


def good_van(of: Shop | None = None) -> Van:
    """A standard van painted in the north booth: everything is as the sheets ask for."""
    van = Van(of or shop())
    for name, point in van.shop.booths["north"].points.items():
        if point.instrument.calibrated:
            van.tell("calibration", -9000, point=name, result="passed", valid_until=format_time(at(400_000)))
    van.tell("calibration", -9000, booth="mix-room", point="pot-1", result="passed", valid_until=format_time(at(400_000)))
    probes = {"part-1": "lower", "part-2": "sills", "part-3": "lower"}
    van.tell("load", -12, vans=[{"vehicle": "TV-1", "bay": "1", "guns": ["gun-1"], "probes": probes}])
    van.tell("job-open", -11, process="standard")
    van.tell("check", -30, check="water-test", result="passed", values={"flow": "32 gallon/min"})
    van.tell("check", -6, check="moisture", result="passed", values={"moisture": "8 percent"})
    for minute, name in ((-10, "wash"), (-9, "sand"), (-7, "mask")):
        van.tell("check", minute, check=name, result="passed")
    for minute, mix, coating in ((-20, "M-1", "epoxy-sealer"), (30, "M-2", "waterborne-base"), (65, "M-3", "two-pack-clear")):
        lots = {component: f"{component[0].upper()}-{mix}" for component in van.shop.coatings[coating].components}
        van.tell("mix", minute, mix=mix, coating=coating, lots=lots, pot="pot-1", booth="mix-room")
    for step, (start, end, mix) in GOOD_STEPS.items():
        van.step(step, start, end, **({"mix": mix} if mix else {}))
    van.tell("check", 66, check="uniformly-matt", result="passed")
    van.tell("check", 200, check="inspect", result="passed")
    van.tell("job-close", 205)
    for name, value in (("air-temperature", 23), ("humidity", 50), ("air-velocity", 0.5), ("booth-pressure", 3)):
        van.reads(name, value, -15, 210)
    van.reads("exhaust-flow", 22, -15, 210)
    van.reads("mix-room/pot-1", 22, -21, 210)
    for name in probes:
        van.reads(name, BAKED, -15, 210)
    for mode, start, end in GOOD_MODES:
        van.says(mode, start, end)
    return van
