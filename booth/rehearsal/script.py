"""A rehearsal's file read, held against the shop, and cut into cases that can be played."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from booth.judge.care import WORDS as CARE
from booth.judge.health.faults import WORDS as FAULTS
from booth.rehearsal.notation import NotationError, Trace, read_trace
from booth.rehearsal.shape import Case, Happening, Rehearsal
from booth.shop.explain import problems_of
from booth.shop.problems import ConfigError, ConfigProblem, instead_of
from booth.shop.promises import Promises
from booth.shop.shop import Shop
from booth.times import SECOND, duration_text, from_datetime

SETTLING_US = 60 * SECOND  # after the last event, so that what waits for late readings is judged as well
OTHER_ALARMS = {"airflow", "whose_coat", "job", *FAULTS, *(f"care:{kind}" for kind in CARE)}
"""What an alarm can be about beside the requirements of a process."""


@dataclass(frozen=True)
class Script:
    """One case, ready to be played; times in microseconds UTC, `traces` by the full name of the point."""

    file: str
    rehearsal: Rehearsal
    case: Case
    begins: int
    ends: int
    traces: Mapping[str, Trace]
    events: tuple[Happening, ...]


def read_scripts(path: Path, shop: Shop) -> list[Script]:
    """The cases of a file. Raises ConfigError with everything that is wrong with it."""
    rehearsal = _read(path)
    problems: list[ConfigProblem] = []
    scripts = []
    if _known(path.name, rehearsal, shop, problems):
        for number, case in enumerate(rehearsal.case):
            scripts += _script(path.name, rehearsal, number, case, shop, problems)
    if problems:
        raise ConfigError(problems)
    return scripts


def _read(path: Path) -> Rehearsal:
    raw = _with_what_it_is_like(path, _toml(path))
    try:
        return Rehearsal.model_validate(raw)
    except ValidationError as error:
        raise ConfigError(problems_of(path.name, error, Rehearsal, raw)) from None


def _toml(path: Path) -> dict:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ConfigError([ConfigProblem(path.name, "", f"this is not TOML: {error}", 'process = "standard"')]) from None


def _with_what_it_is_like(path: Path, raw: dict) -> dict:
    """`like = "standard.toml"`: everything but the cases out of the file beside it, where this one says nothing of its own."""
    if "like" not in raw:
        return raw
    own = {key: value for key, value in raw.items() if key != "like"}
    other = path.parent / str(raw["like"])
    if not other.is_file() or other == path:
        known = sorted(one.name for one in path.parent.glob("*.toml") if one != path)
        message = f"there is no rehearsal {raw['like']!r} beside this one"
        raise ConfigError([ConfigProblem(path.name, "like", message, f'"{instead_of(str(raw["like"]), known)}"')])
    shared = {key: value for key, value in _toml(other).items() if key not in ("case", "like")}
    points = {**shared.get("points", {}), **own.get("points", {})}
    events = [*shared.get("events", []), *own.get("events", [])]
    return {**shared, **own, "points": points, "events": events}


def _known(file: str, rehearsal: Rehearsal, shop: Shop, problems: list[ConfigProblem]) -> bool:
    for key, name, known in (("process", rehearsal.process, shop.processes), ("booth", rehearsal.booth, shop.booths)):
        if name not in known:
            problems.append(ConfigProblem(file, key, f"this shop has no {key} {name!r}", instead_of(name, known)))
    return not problems


def _script(
    file: str, rehearsal: Rehearsal, number: int, case: Case, shop: Shop, problems: list[ConfigProblem]
) -> Iterator[Script]:
    place, before = f"case[{number + 1}]", len(problems)
    traces = _traces(file, place, rehearsal, case, shop, problems)
    names = {event.name for event in rehearsal.events}
    for name in case.without:
        if name not in names:
            known = [one for one in names if one]
            problems.append(ConfigProblem(file, f"{place}.without", f"no event is named {name!r}", instead_of(name, known)))
    problems += _unknown_requirements(file, place, rehearsal, case, shop)
    events = sorted([*(one for one in rehearsal.events if one.name not in case.without), *case.events], key=lambda one: one.at)
    lasts = case.lasts or _lasts(case, events, traces)
    problems += _out_of_reach(file, place, case, lasts, traces)
    if len(problems) == before:
        begins = from_datetime(rehearsal.begins)
        yield Script(file, rehearsal, case, begins, begins + lasts, traces, tuple(events))


def _traces(
    file: str, place: str, rehearsal: Rehearsal, case: Case, shop: Shop, problems: list[ConfigProblem]
) -> dict[str, Trace]:
    traces = {}
    own = [(f"{place}.points.{name}", name, text) for name, text in case.points.items()]
    shared = [(f"points.{name}", name, text) for name, text in rehearsal.points.items() if name not in case.points]
    for key, name, text in (*shared, *own):
        full = name if "/" in name else f"{rehearsal.booth}/{name}"
        booth, _, point_id = full.partition("/")
        points = shop.booths[booth].points if booth in shop.booths else {}
        if point_id not in points:
            known = [f"{one}/{point}" for one, room in shop.booths.items() for point in room.points]
            problems.append(ConfigProblem(file, key, f"this shop has no point {full!r}", instead_of(full, known)))
            continue
        point = points[point_id]
        try:
            traces[full] = read_trace(text, point.kind, point.words)
        except NotationError as error:
            problems.append(ConfigProblem(file, key, error.message, f'"{error.write}"'))
    return traces


def _unknown_requirements(file: str, place: str, rehearsal: Rehearsal, case: Case, shop: Shop) -> Iterator[ConfigProblem]:
    """A requirement that the process doesn't have would be "not missed" for ever, and its alarm "normal"."""
    promises, steps = Promises(shop), shop.processes[rehearsal.process].steps
    known = {one.id for step in steps for one in promises.of(rehearsal.process, step, rehearsal.booth).requirements}
    for index, one in enumerate(case.expect):
        for key, name, others in (("requirement", one.requirement, {"*"}), ("alarm", one.alarm, OTHER_ALARMS)):
            if name is not None and name not in known | others:
                where = f"{place}.expect[{index + 1}].{key}"
                message = f"the process {rehearsal.process!r} has no {key} {name!r}"
                yield ConfigProblem(file, where, message, f'"{instead_of(name, sorted(known | others))}"')


def _lasts(case: Case, events: list[Happening], traces: Mapping[str, Trace]) -> int:
    """As long as the traces reach; where they go on, a little longer than anything that happens or is asked about."""
    reach = [trace.length_us for trace in traces.values() if trace.length_us is not None]
    last = [one.at for one in events] + [one.at or one.raised or 0 for one in case.expect]
    return max([*reach, max(last, default=0) + SETTLING_US])


def _out_of_reach(file: str, place: str, case: Case, lasts: int, traces: Mapping[str, Trace]) -> Iterator[ConfigProblem]:
    """A question about a time of which the file says nothing is a mistake of the file, not silence of a sensor."""
    asked = [(f"{place}.expect[{index + 1}]", max(one.at or 0, one.raised or 0)) for index, one in enumerate(case.expect)]
    asked += [(f"{place}.lasts", case.lasts or 0)]
    for key, at in asked:
        for name, trace in traces.items():
            if trace.length_us is not None and trace.length_us < at:
                message = (
                    f"{name} is written down for {duration_text(trace.length_us)} only, and this is about {duration_text(at)}"
                )
                yield ConfigProblem(file, key, message, "a last part without a length, which goes on: …, 23 degC (or: silent)")
        if at > lasts:
            message = f"the case lasts {duration_text(lasts)}, and this is about {duration_text(at)}"
            yield ConfigProblem(file, key, message, f'lasts = "{duration_text(at)}"')
