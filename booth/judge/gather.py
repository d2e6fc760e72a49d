"""From a job and its readings to the evidence of one requirement: which points, over which stretch, beside which facts.

The readings come through a port (`Readings`), so that the store, the live logger and a test answer alike. `known_by` limits them
to what had arrived by a moment, so that what was believed live can be replayed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Protocol

from booth.judge.course import course, next_run
from booth.judge.evidence import UNKNOWN, Evidence, Heated, Part
from booth.judge.facts import Calibration, Job, Mix, Place, Round, Run
from booth.judge.health.faults import OUT_OF_CALIBRATION
from booth.judge.health.operating import within_operating_range
from booth.judge.health.overlay import believable
from booth.judge.health.spans import Interval
from booth.judge.ledger import Ledger
from booth.judge.needs import DECIDING, POT_KINDS, booth_measures, needs_parts, needs_pot
from booth.judge.series import Series
from booth.shop.point import Point
from booth.shop.process import Process, Step
from booth.shop.requirement import Requirement
from booth.shop.room import Booth
from booth.shop.shop import Shop


class Readings(Protocol):
    """Where readings come from."""

    def evidence(self, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        """Good readings with start <= time < end, and the last before start if not older than max_age."""
        ...


@dataclass(frozen=True)
class Case:
    """A step of a job's round, with everything that stands around it."""

    job: Job
    round: Round
    process: Process
    step: Step
    run: Run | None
    runs: dict[str, Run]

    @property
    def before(self) -> Run | None:
        """The run of the step that this one comes after."""
        return self.runs.get(self.step.after) if self.step.after else None

    @property
    def booth(self) -> str | None:
        return self.run.booth if self.run else None

    @property
    def end(self) -> int | None:
        """A step whose end nobody recorded ends with its round."""
        return self.run.end if self.run and self.run.end is not None else self.round.closed


class Gatherer:
    """Gathers evidence as known at a moment. Series are fetched once and kept for the requirements that share them."""

    def __init__(self, shop: Shop, ledger: Ledger, readings: Readings, as_of: int, known_by: int | None = None) -> None:
        self.shop, self.ledger, self.readings = shop, ledger, readings
        self.as_of, self.known_by = as_of, known_by
        self._fetched: dict[tuple[str, int, int], Series] = {}

    def evidence(self, requirement: Requirement, case: Case) -> Evidence:
        """Everything that this requirement is judged on."""
        run, booth = case.run, self.shop.booths.get(case.booth or "")
        before, following = _around(case)
        mix = self._mix(case)
        stretch = self.stretch(requirement, case)
        parts: tuple[Part, ...] = ()
        series: dict[str, Series] = {}
        uncertainty: dict[str, float] = {}
        if stretch is not None and booth is not None:
            series, uncertainty = self._series(requirement, case.booth, booth, *stretch)
            if needs_parts(requirement):
                parts = self._parts(case, booth, *stretch)
                uncertainty |= _part_uncertainty(booth, parts, requirement.guarded)
        if stretch is not None and mix is not None and needs_pot(requirement):
            series |= self._pot(mix, *stretch)
            if (pot := self._pot_point(mix)) is not None:
                uncertainty["pot_temperature"] = _uncertainty(pot, requirement.guarded)
        return Evidence(
            start=run.start if run else None,
            end=case.end if run else None,
            span_source=run.source if run else "entered",
            series=series,
            parts=parts,
            modes=_mode_words(booth),
            uncertainty=uncertainty,
            surface=_surface(booth, parts),
            before=before.passes if before else (),
            after=following.passes if following else (),
            following=following.start if following else None,
            checks=case.round.checks,
            mix=mix,
            mix_named=run.mix if run else None,
            volume_m3=booth.volume if booth else None,
            calibrations=self._calibrations(case, booth) if requirement.kind == "calibration" and booth else {},
            earlier=self._earlier(case) if requirement.kind == "over_bake" else (),
            closed=case.round.closed if case.round.closed is not None and case.round.closed <= self.as_of else None,
            moments=self._moments(booth, case),
        )

    def _moments(self, booth: Booth | None, case: Case) -> dict[str, int]:
        """How well a start or an end is known: a button by how far from it people press, an instrument by how often it speaks,
        a bake that was told by its heat by what the booth's file says of it."""
        entered = self.shop.site.judging.entered_within
        told = [point.max_age for point in booth.points.values() if point.measure in ("mode", "gun_flow")] if booth else []
        seen = max(told, default=entered)
        by_heat = any(run.kind == "bake" and run.source == "inferred" for run in case.runs.values())
        inferred = max(seen, booth.heat.known_within) if by_heat and booth and booth.heat else seen
        return {"entered": entered, "signalled": seen, "inferred": inferred, "derived": max(entered, seen)}

    def points(self, requirement: Requirement, case: Case) -> list[str]:
        """Names of the points whose readings this requirement rests on, for the evidence's hash."""
        booth, mix = self.shop.booths.get(case.booth or ""), self._mix(case)
        if booth is None:
            return []
        names = [name for measure in booth_measures(requirement) for name in booth.measuring(measure)[:1]]
        if needs_parts(requirement):
            names += [point for place in _places(case) for point in place.probes if point in booth.points]
        found = {f"{case.booth}/{name}" for name in names}
        if mix is not None and needs_pot(requirement) and self._pot_point(mix) is not None:
            found.add(f"{mix.booth}/{mix.pot}")
        return sorted(found)

    def stretch(self, requirement: Requirement, case: Case) -> tuple[int, int] | None:
        """The stretch of time that the requirement's readings come from, end excluded; None before the step has begun."""
        if case.run is None:
            return None
        start, end, mix = case.run.start, case.end, self._mix(case)
        if requirement.kind.startswith("flash") and case.before is not None:
            start = min(start, case.before.start)
        if requirement.kind in POT_KINDS and mix is not None:
            start = min(start, mix.time)
        return start, self.as_of + 1 if end is None else min(end, self.as_of + 1)

    def unhealthy(self, requirement: Requirement, case: Case) -> list[Interval]:
        """Faults of the instruments that this requirement rests on, as far as they touch the stretch that it rests on."""
        stretch = self.stretch(requirement, case)
        if stretch is None:
            return []
        intervals = [one for name in self.points(requirement, case) for one in self._faults(name, *stretch)]
        return sorted(intervals, key=lambda one: (one.start, one.point, one.fault))

    def _faults(self, name: str, start: int, end: int) -> list[Interval]:
        booth, _, point = name.partition("/")
        calibrated = self.shop.booths[booth].points[point].instrument.calibrated
        known = self.ledger.doubts(name, start, end, self.known_by)
        return [one for one in known if calibrated or one.fault != OUT_OF_CALIBRATION]

    def _mix(self, case: Case) -> Mix | None:
        return self.ledger.mix(case.run.mix, case.run.start) if case.run and case.run.mix else None

    def _fetch(self, name: str, point: Point, start: int, end: int) -> Series:
        key = (name, start, end)
        if key not in self._fetched:
            series = self.readings.evidence(name, start, end, point.max_age, self.known_by)
            doubts = self.ledger.doubts(name, start - point.max_age, end, self.known_by)
            self._fetched[key] = believable(series, doubts)
        return self._fetched[key]

    def _series(
        self, requirement: Requirement, booth_id: str, booth: Booth, start: int, end: int
    ) -> tuple[dict[str, Series], dict[str, float]]:
        found, uncertainty = {}, {}
        for measure in booth_measures(requirement):
            for name in booth.measuring(measure)[:1]:
                point = booth.points[name]
                series = self._fetch(f"{booth_id}/{name}", point, start, end)
                if measure == "relative_humidity" and point.operating_to is not None:
                    series = self._usable_humidity(series, booth_id, booth, point, start, end)
                found[measure] = series
                uncertainty[measure] = _uncertainty(point, requirement.guarded)
        return found, uncertainty

    def _usable_humidity(self, series: Series, booth_id: str, booth: Booth, point: Point, start: int, end: int) -> Series:
        for name in booth.measuring("air_temperature")[:1]:
            air = self._fetch(f"{booth_id}/{name}", booth.points[name], start - point.recovery - point.max_age, end)
            return within_operating_range(series, air, point.operating_to, point.recovery)
        return series

    def _parts(self, case: Case, booth: Booth, start: int, end: int) -> tuple[Part, ...]:
        found: dict[str, Part] = {}
        for place in _places(case):
            for name, zone in place.probes.items():
                if name in booth.points and zone in case.process.zones:
                    series = self._fetch(f"{case.booth}/{name}", booth.points[name], start, end)
                    found[name] = Part(name, zone, case.process.zones[zone], series)
        return tuple(found.values())

    def _pot_point(self, mix: Mix) -> Point | None:
        booth = self.shop.booths.get(mix.booth or "")
        return booth.points.get(mix.pot or "") if booth else None

    def _pot(self, mix: Mix, start: int, end: int) -> dict[str, Series]:
        """The temperature of the mix's pot, from mixing on."""
        point = self._pot_point(mix)
        return {} if point is None else {"pot_temperature": self._fetch(f"{mix.booth}/{mix.pot}", point, start, end)}

    def _calibrations(self, case: Case, booth: Booth) -> dict[str, Calibration | None]:
        names = [name for measure in DECIDING for name in booth.measuring(measure)[:1]]
        probes = [point for place in _places(case) for point in place.probes if point in booth.points]
        names += probes or booth.measuring("surface_temperature")[:1]
        points = {f"{case.booth}/{name}": booth.points[name] for name in names}
        mix = self._mix(case)
        pot = self._pot_point(mix) if mix is not None and self._goes_by_pot(case.step) else None
        if pot is not None:
            points[f"{mix.booth}/{mix.pot}"] = pot
        end = self.as_of if case.end is None else min(case.end, self.as_of)
        calibrated = [name for name, point in points.items() if point.instrument.calibrated]
        return {name: _unbroken([one for one in self.ledger.calibrations(name) if one.time <= end]) for name in calibrated}

    def _goes_by_pot(self, step: Step) -> bool:
        """Whether the sheet of this step's coating tabulates a time over the temperature of the pot."""
        coating = self.shop.coatings.get(step.coating or "")
        limits = [coating.pot_life.maximum, coating.pot_life.induction] if coating and coating.pot_life else []
        return any(limit and limit.driven_by == "pot" for limit in limits)

    def _earlier(self, case: Case) -> tuple[Heated, ...]:
        """Bakes of earlier rounds, with the probes that were on the van then."""
        found = []
        for round_ in case.job.rounds[: case.round.number - 1]:
            runs = course(case.job, round_, case.process)
            for step in case.process.steps:
                old = Case(case.job, round_, case.process, step, runs.get(step.step), runs)
                booth = self.shop.booths.get(old.booth or "")
                if step.kind == "bake" and booth is not None:
                    end = min(old.end or self.as_of, self.as_of)
                    found.append(Heated(old.run.start, end, self._parts(old, booth, old.run.start, end)))
        return tuple(found)


def _places(case: Case) -> Iterable[Place]:
    """Where the van stood during the step; more than one place when the load was entered anew meanwhile."""
    start, end = case.run.start, case.end
    for place in case.job.places:
        if place.booth == case.booth and (end is None or place.start < end) and (place.end is None or place.end > start):
            yield place


def _unbroken(known: list[Calibration]) -> Calibration | None:
    """The newest calibration, dated back to the first of those that it renewed without a day between them."""
    if not known:
        return None
    since = known[-1].time
    for one in reversed(known[:-1]):
        if one.result != "passed" or one.valid_until < since:
            break
        since = one.time
    return replace(known[-1], time=since)


def _around(case: Case) -> tuple[Run | None, Run | None]:
    """The step that this one comes after, and the coat or bake that ends it: a purge lies between the last coat and the bake."""
    if case.step.kind == "purge":
        names = [step.step for step in case.process.steps]
        index = names.index(case.step.step)
        coats = [step.step for step in case.process.steps[:index] if step.kind == "coat"]
        bakes = [step.step for step in case.process.steps[index:] if step.kind == "bake"]
        return case.runs.get(coats[-1]) if coats else None, case.runs.get(bakes[0]) if bakes else None
    following = next_run(case.step, case.round, case.process) if case.step.kind == "flash" else None
    return case.before, following


def _uncertainty(point: Point, guarded: bool) -> float:
    """Expanded uncertainty of a point. A guarded rule can't take one that nobody stated for none at all."""
    known = point.uncertainty()
    return (UNKNOWN if guarded else 0.0) if known is None else known


def _part_uncertainty(booth: Booth, parts: tuple[Part, ...], guarded: bool) -> dict[str, float]:
    known = [_uncertainty(booth.points[part.point], guarded) for part in parts]
    return {"part_temperature": max(known)} if known else {}


def _surface(booth: Booth | None, parts: tuple[Part, ...]) -> str:
    """How the surface temperature was measured, for the sentence."""
    names = [part.point for part in parts] or (booth.measuring("surface_temperature")[:1] if booth else [])
    if not names:
        return "assumed from air"
    instrument = booth.points[names[0]].instrument
    emissivity = f", emissivity {instrument.emissivity:g}" if instrument.emissivity else ""
    return f"by {instrument.method or ('part probe' if parts else 'probe')}{emissivity}"


def _mode_words(booth: Booth | None) -> tuple[str, ...]:
    if booth is None or booth.mode_point is None:
        return ()
    return booth.points[booth.mode_point].words or ()
