"""All that the painter's page shows of one booth at one moment, as plain values: no words, no names of people.

Times are microseconds UTC, values in the unit used inside. Pure: the same scene gives the same snapshot.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from booth.alarms.book import AlarmBook
from booth.asking import Asker
from booth.judge.clearance import Clearance, clearance, unheard
from booth.judge.evidence import Evidence, Part
from booth.judge.gather import Readings
from booth.judge.health.faults import OUT_OF_OPERATING_RANGE, STALE
from booth.judge.health.operating import within_operating_range
from booth.judge.health.overlay import believable
from booth.judge.infer import mode_stretches
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.live_jobs import LiveJob, Open, Seen
from booth.shop.promises import Promises
from booth.shop.requirement import Requirement
from booth.shop.room import Booth
from booth.shop.shop import Shop
from booth.store import Reading
from booth.times import HOUR
from booth.web.painter.notices import notices
from booth.web.painter.numbers import FIGURES, TREND_US, VENTILATION, Holding, figure, holding, is_on, worst
from booth.web.painter.stage import Stage, stage_of, to_confirm

CLEARANCE_LOOK_BACK_US = 12 * HOUR
MEASURED = ("air_temperature", "relative_humidity", "surface_temperature", "air_velocity", "booth_pressure", "mode")


@dataclass(frozen=True)
class Scene:
    """What a snapshot is made of. `newest` has every point's newest reading; `arrived` is when anything last came in; `stopped`
    is when the logger said that it stopped, None while it runs; `quiet`: nothing comes from a plant that drives the clock itself.
    """

    shop: Shop
    ledger: Ledger
    readings: Readings
    judged: Sequence[tuple[LiveJob, Sequence[Seen]]]
    book: AlarmBook
    newest: Mapping[str, Reading]
    as_of: int
    arrived: int | None
    stopped: int | None = None
    quiet: bool = False
    promises: Mapping[int, Promises] = field(default_factory=dict)  # by identity of the shop, so that each is made once


def snapshot(scene: Scene, booth_id: str) -> dict[str, Any]:
    """One booth as of the scene's moment."""
    return _Picture(scene, booth_id).whole()


class _Picture:
    """One booth, with what several parts of the snapshot share."""

    def __init__(self, scene: Scene, booth_id: str) -> None:
        self.scene, self.booth_id, self.booth, self.as_of = scene, booth_id, scene.shop.booths[booth_id], scene.as_of
        self.loaded = [van["vehicle"] for van in scene.ledger.loaded(booth_id)]
        by_vehicle = {live.job.vehicle: (live, findings) for live, findings in scene.judged}
        self.vans = [(name, *by_vehicle.get(name, (None, ()))) for name in self.loaded]
        self.stages: dict[str, Stage] = {name: stage_of(live, findings) for name, live, findings in self.vans if live is not None}
        jobs = [Open(live.job, live.shop) for live, _ in scene.judged]
        asker = Asker(scene.shop, scene.ledger, scene.readings)
        self.unclaimed = [one for one in asker.unclaimed(jobs, self.as_of) if one.booth == booth_id]
        self.gun_on = self.booth.hazard is not None and is_on(self._guns(), self.booth.hazard.spraying_flow, self.as_of)

    def whole(self) -> dict[str, Any]:
        doubts = dict(self._doubts())
        evidence = self._evidence()
        limits = self._limits()
        measures = dict.fromkeys([*FIGURES, *(one.limit.measure for one in limits)])
        figures = {name: figure(name, limits, evidence, doubts, self.as_of) for name in measures}
        climate = [one for name, one in figures.items() if name not in VENTILATION]
        ventilation = [one for name, one in figures.items() if name in VENTILATION]
        return {
            "booth": self.booth_id,
            "name": self.booth.name,
            "as_of": self.as_of,
            "state": self._state(),
            "arrived": self.scene.arrived,
            "stopped": self.scene.stopped,
            "mode": self._mode(),
            "gun_on": self.gun_on,
            "climate": _word_of(climate),
            "ventilation": _word_of(ventilation),
            "figures": [asdict(figures[name]) for name in FIGURES],
            "vans": [self._van(*one) for one in self.vans],
            "notices": [asdict(one) for one in self._notices()],
            "clearance": self._clearance(),
        }

    def _state(self) -> str:
        """live, stopped (the logger said so) or silent (nothing comes): the last two are no live picture."""
        if self.scene.stopped is not None:
            return "stopped"
        if self.scene.quiet:
            return "silent"
        oldest = max(point.max_age for point in self.booth.points.values())
        times = [one.time for name in self.booth.points if (one := self._newest(name)) is not None]
        return "live" if times and self.as_of - max(times) <= oldest else "silent"

    def _newest(self, name: str) -> Reading | None:
        return self.scene.newest.get(f"{self.booth_id}/{name}")

    def _series(self, name: str, back_us: int = TREND_US) -> Series:
        start, end = self.as_of - back_us, self.as_of + 1
        return self.scene.readings.evidence(f"{self.booth_id}/{name}", start, end, self.booth.points[name].max_age)

    def _believed(self, name: str, back_us: int) -> Series:
        """Without what it said while it had a fault."""
        series = self._series(name, back_us)
        first = int(series.times[0]) if len(series) else self.as_of
        faults = self.scene.ledger.health_since(f"{self.booth_id}/{name}", first)
        return believable(series, (one for one in faults if not one.withdrawn))

    def _guns(self, back_us: int = TREND_US) -> list[Series]:
        return [self._believed(name, back_us) for name in self.booth.measuring("gun_flow")]

    def _sprays(self, back_us: int) -> list[tuple[int, int]]:
        """Stretches in which the booth said that it sprays; the last one lasts until it says something else."""
        words = self.booth.points[self.booth.mode_point].words or () if self.booth.mode_point else ()
        if "spray" not in words:
            return []
        told = mode_stretches(self._series(self.booth.mode_point, back_us), words.index("spray"), self.as_of)
        return [(one.start, self.as_of if one.end is None else one.end) for one in told]

    def _evidence(self) -> Evidence:
        """The booth's air and the parts of every van in it, over the last minutes."""
        series = {measure: self._series(name) for measure in MEASURED for name in self.booth.measuring(measure)[:1]}
        for name in self.booth.measuring("relative_humidity")[:1]:
            series["relative_humidity"] = self._usable(name, series["relative_humidity"])
        parts = []
        for van in self.scene.ledger.loaded(self.booth_id):
            for name, zone in van.get("probes", {}).items():
                if name in self.booth.points:
                    parts.append(Part(name, zone, "", self._series(name)))
        words = self.booth.points[self.booth.mode_point].words if self.booth.mode_point else ()
        return Evidence(self.as_of - TREND_US, None, series=series, parts=tuple(parts), modes=tuple(words or ()))

    def _usable(self, name: str, humidity: Series) -> Series:
        """Without what the probe said while it was too hot for it."""
        point = self.booth.points[name]
        air = self.booth.measuring("air_temperature")[:1]
        if point.operating_to is None or not air:
            return humidity
        back = TREND_US + point.recovery + point.max_age
        return within_operating_range(humidity, self._series(air[0], back), point.operating_to, point.recovery)

    def _limits(self) -> list[Holding]:
        """Of what goes on in the booth; where nothing does, of the coat that comes next."""
        going = [req for name in self.stages for req in self._requirements(name, self.stages[name].now)]
        if going or any(stage.now is not None for stage in self.stages.values()):
            return holding(going)
        return holding(
            req
            for name, stage in self.stages.items()
            if stage.next is not None and stage.next.step.kind == "coat"
            for req in self._requirements(name, stage.next)
        )

    def _requirements(self, vehicle: str, case: Any) -> Sequence[Requirement]:
        if case is None:
            return ()
        live = next(one for name, one, _ in self.vans if name == vehicle)
        promises = self.scene.promises.get(id(live.shop)) or Promises(live.shop)
        return promises.of(live.job.process, case.step, self.booth_id).requirements

    def _doubts(self) -> Iterator[tuple[str, str]]:
        """Measures whose instrument isn't to be trusted, and why: a fault that the journal knows, silent, contradicted."""
        for measure in (*MEASURED[:-1], "part_temperature"):
            names = self.booth.measuring(measure) if measure == "part_temperature" else self.booth.measuring(measure)[:1]
            for name in names:
                why = self._doubt(name)
                if why is not None:
                    yield measure, why

    def _doubt(self, name: str) -> str | None:
        full, point, newest = f"{self.booth_id}/{name}", self.booth.points[name], self._newest(name)
        now = [one.fault for one in self.scene.ledger.unhealthy(full) if one.touches(self.as_of, self.as_of + 1)]
        faults = [one for one in now if one != STALE]  # whether it speaks again is seen here sooner than in the journal
        if faults:
            return faults[-1]
        if newest is None or self.as_of - newest.time > point.max_age:
            return None if point.measure == "part_temperature" else "silent"
        if newest.quality != "good":
            return "quality"
        hot = point.measure == "relative_humidity" and not len(self._usable(name, self._series(name)))
        return OUT_OF_OPERATING_RANGE if hot else None

    def _mode(self) -> str | None:
        if self.booth.mode_point is None:
            return None
        newest = self._newest(self.booth.mode_point)
        fresh = newest is not None and self.as_of - newest.time <= self.booth.points[self.booth.mode_point].max_age
        return newest.sent if fresh and newest.quality == "good" else "unknown"

    def _van(self, vehicle: str, live: LiveJob | None, findings: Sequence[Seen]) -> dict[str, Any]:
        if live is None:
            return {"vehicle": vehicle, "open": False, "now": None, "coming": None, "beside": [], "zones": [], "confirm": []}
        stage = self.stages[vehicle]
        run = stage.now.run if stage.now else None
        return {
            "vehicle": vehicle,
            "open": live.job.round.closed is None,
            "mark": _mark(live, stage),
            "now": stage.now and _now(stage.now.step, run),
            "coming": asdict(stage.coming) if stage.coming else None,
            "beside": [
                {"kind": one.kind, "step": one.step, "earliest": one.window.earliest, "latest": one.window.latest}
                for one in stage.beside
            ],
            "zones": list(stage.now.process.zones if stage.now else stage.next.process.zones if stage.next else ()),
            "confirm": [
                {"step": one.step, "start": one.start, "end": one.end, "asked": False}
                for one in to_confirm(live, self.booth_id, self.as_of)
            ]
            + [
                {"step": step, "start": one.start, "end": one.end, "asked": True}
                for one in self.unclaimed
                if (step := one.coats.get(vehicle)) is not None and live.job.round.closed is None
            ],
        }

    def _notices(self) -> list[Any]:
        seen = {(live.job.vehicle, one.requirement.id): one for live, findings in self.scene.judged for one in findings}
        return notices(self.scene.book, self.booth_id, seen, self.gun_on, self.as_of)

    def _clearance(self) -> dict[str, Any] | None:
        rule, hazard = self.booth.clearance, self.booth.hazard
        if rule is None:
            return None
        back = CLEARANCE_LOOK_BACK_US
        guns = self._guns(back)
        air = self._believed(self.booth.measuring("air_velocity")[0], back)
        unseen = unheard(guns, self._sprays(back), self.as_of)
        limits = (hazard.spraying_flow, hazard.minimum_velocity, rule.time)
        found: Clearance | None = clearance(guns, air, *limits, self.as_of, unseen)
        if found is None:
            return None
        return {
            "sprayed": found.sprayed,
            "since": found.since,
            "until": found.until,
            "over": found.is_over(self.as_of),
            "time": rule.time,
            "smoke_test": rule.smoke_test.isoformat(),
        }


def _mark(live: LiveJob, stage: Stage) -> str:
    """Another one whenever something was entered about the step: a second touch on the same button is the same event."""
    run = stage.now.run if stage.now else None
    entered = (len(run.passes), sum(one.end is None for one in run.passes), len(run.holds), run.start) if run else ()
    return f"{live.job.round.number}/{len(live.job.round.runs)}/{entered}"


def _now(step: Any, run: Any) -> dict[str, Any]:
    held = bool(run.holds) and run.holds[-1][1] is None
    zones = [one.zone for one in run.passes if one.end is None and one.zone is not None]
    return {"step": step.step, "kind": step.kind, "start": run.start, "held": held, "source": run.source, "zones": zones}


def _word_of(figures: Iterable[Any]) -> dict[str, Any]:
    """A word over several measures, and those that are the reason for it."""
    figures = list(figures)
    word = worst(one.word for one in figures)
    return {"word": word, "reasons": [asdict(one) for one in figures if one.word == word and word in ("out", "unproven")]}


def booths_shown(shop: Shop) -> dict[str, Booth]:
    """The booths that a painter's page is for: those that have modes."""
    return {name: booth for name, booth in shop.booths.items() if booth.mode_point is not None}
