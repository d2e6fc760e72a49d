"""Mistakes that no single file shows: a name that nothing bears, a unit that its point can't have.

A name whose own file could not be read is not called unknown as well: that file's problems are told already.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from booth.shop.coating import Coating
from booth.shop.point import Point
from booth.shop.problems import ConfigProblem, instead_of
from booth.shop.process import Process, Step
from booth.shop.replay_map import ReplayMap
from booth.shop.room import Booth
from booth.shop.site import JsonMapping, Site
from booth.units import UnitError, affine


def cross_check(
    site: Site | None,
    booths: Mapping[str, Booth],
    coatings: Mapping[str, Coating],
    processes: Mapping[str, Process],
    replay: Mapping[str, ReplayMap],
    files: Mapping[str, str],
) -> Iterator[ConfigProblem]:
    """Every reference from one file to another that leads nowhere. `files`: every file by its name, whether it could be read."""
    for folder, example in (("booths", "north"), ("processes", "standard")):
        if not any(name.startswith(f"{folder}/") for name in files):
            yield ConfigProblem(f"{folder}/", "", "a shop has at least one file here", f"{folder}/{example}.toml")
    for name, booth in booths.items():
        yield from _twice(f"booths/{name}.toml", booth)
    points = Points(booths, files)
    if site is not None:
        yield from _site(site, points)
    if any(model.decision_rule == "guarded" for model in (*coatings.values(), *([site.judging] if site else []))):
        yield from _guarded(booths)
    for name, mapping in replay.items():
        yield from _replay(f"replay/{name}.toml", mapping, points)
    for name, process in processes.items():
        for step in process.steps:
            yield from _step(f"processes/{name}.toml", process, step, coatings, files)


SINGLE = ("air_temperature", "relative_humidity", "air_velocity", "booth_pressure", "air_flow", "surface_temperature")
"""Measures that a booth has one point for: which of two to judge by, no file says."""


def _twice(file: str, booth: Booth) -> Iterator[ConfigProblem]:
    told = booth.ventilation
    flows = {told.intake_flow, told.exhaust_flow} if told is not None else set()
    for measure in SINGLE:
        first, *others = booth.measuring(measure) or [""]
        for name in others:
            if first in (name, booth.points[name].health.partner):
                continue  # it only watches over the first one
            if {first, name} == flows:
                continue  # the first judges; together they make a balance
            message = f"point {first!r} measures {measure} here already, and a booth is judged by one point for it"
            yield ConfigProblem(
                file, f"points.{name}.measure", message, f"one of the two points, {first} or {name}, and not the other"
            )


UNGUARDED = ("mode", "gun_flow", "filter_pressure_drop")
"""Measures that no guarded limit is put on."""


def _guarded(booths: Mapping[str, Booth]) -> Iterator[ConfigProblem]:
    """A guarded rule judges by the instruments' uncertainty, so each of them must state one."""
    for booth, model in booths.items():
        for name, point in model.points.items():
            if point.measure not in UNGUARDED and point.instrument.expanded_uncertainty is None:
                key = f"points.{name}.instrument.expanded_uncertainty"
                message = "this key is required, since a guarded decision rule judges by it"
                yield ConfigProblem(f"booths/{booth}.toml", key, message, 'expanded_uncertainty = "0.4 K"')


class Points:
    """The points of every booth by name, `north/humidity`."""

    def __init__(self, booths: Mapping[str, Booth], files: Mapping[str, str]) -> None:
        self.known = {f"{booth}/{name}": point for booth, model in booths.items() for name, point in model.points.items()}
        self._unread = {name[7:-5] for name in files if name.startswith("booths/")} - set(booths)

    def missing(self, name: str, measure: str | None = None) -> str | None:
        """What to write instead of a name that no point has (or none with this measure); None where it is right."""
        right = sorted(one for one, point in self.known.items() if measure in (None, point.measure))
        if name in right or name.partition("/")[0] in self._unread:
            return None
        return instead_of(name, right) if right else "a point that one of the booths has"

    def like(self, pattern: str) -> list[str]:
        """Points that a name with {1} in place of a topic's level can mean."""
        expression = re.compile(re.sub(r"\\\{\d+\\\}", ".+", re.escape(pattern)))
        return [name for name in self.known if expression.fullmatch(name)]


def _site(site: Site, points: Points) -> Iterator[ConfigProblem]:
    if site.barometer is not None:
        write = points.missing(site.barometer, "air_pressure")
        if write:
            yield ConfigProblem("site.toml", "barometer", f"{site.barometer!r} is not a point that measures air_pressure", write)
    for number, mapping in enumerate(site.mqtt.mappings, start=1):
        yield from _mapping(f"mqtt.mappings[{number}]", mapping, points)


def _mapping(key: str, mapping: JsonMapping, points: Points) -> Iterator[ConfigProblem]:
    names = points.like(mapping.point) if "{" in mapping.point else [mapping.point]
    write = points.missing(mapping.point)
    if write and not any(name in points.known for name in names):
        yield ConfigProblem("site.toml", f"{key}.point", f"{mapping.point!r} is not a point", write)
    for name in names:
        if name in points.known and mapping.unit is not None:
            yield from _unit("site.toml", f"{key}.unit", mapping.unit, points.known[name])


def _unit(file: str, key: str, unit: str, point: Point) -> Iterator[ConfigProblem]:
    if point.measure == "mode":
        return
    try:
        affine(unit, point.kind)
    except UnitError as error:
        yield ConfigProblem(file, key, error.expected, f'unit = "{point.unit}"')


def _replay(file: str, mapping: ReplayMap, points: Points) -> Iterator[ConfigProblem]:
    for column, target in (mapping.columns or {}).items():
        write = points.missing(target.point)
        if write:
            yield ConfigProblem(file, f"columns.{column}.point", f"{target.point!r} is not a point", write)
        elif target.unit and target.point in points.known:
            yield from _unit(file, f"columns.{column}.unit", target.unit, points.known[target.point])


def _step(
    file: str, process: Process, step: Step, coatings: Mapping[str, Coating], files: Mapping[str, str]
) -> Iterator[ConfigProblem]:
    """The coating of a step, and the table that a flash-off, a bake or a cool-down needs of it."""
    before = process.named(step.after) if step.after else None
    key, name = ("after", before.coating) if step.coating is None and before else ("coating", step.coating)
    if name is None:
        return
    coating = coatings.get(name)
    if coating is None:
        if f"coatings/{name}.toml" not in files and key == "coating":
            write = instead_of(name, sorted(coatings)) if coatings else f"the file coatings/{name}.toml"
            yield ConfigProblem(file, f"steps.{step.step}.coating", f"{name!r} is not a coating", write)
        return
    needed = step.kind if step.kind in ("flash", "bake", "cool") else None
    if needed and getattr(coating, needed) is None:
        write = f"a [{needed}] table in coatings/{name}.toml"
        yield ConfigProblem(file, f"steps.{step.step}.{key}", f"coating {name!r} has no [{needed}]", write)
