"""What a record tells beside its findings: alarms, lots, mixes, film, instruments, and people's own words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from booth.alarms.states import Event, State
from booth.alarms.transition import Transition, read_transition
from booth.judge.assess import cases, requirements
from booth.judge.facts import Calibration, Check, Film, Job, Mix, Saying
from booth.judge.health.entries import told
from booth.judge.health.spans import Interval
from booth.reports.judged import Judged
from booth.times import format_time

GONE = (State.NORMAL, State.RETURNED_UNACKNOWLEDGED, State.OUT_OF_SERVICE)


def checks(job: Job) -> list[dict[str, Any]]:
    return [_check(one) for round_ in job.rounds for one in round_.checks]


def _check(one: Check) -> dict[str, Any]:
    return {"check": one.check, "result": one.result, "time": format_time(one.time), "by": one.by, "values": dict(one.values)}


def films(job: Job) -> list[dict[str, Any]]:
    return [_film(one) for round_ in job.rounds for one in round_.films]


def _film(one: Film) -> dict[str, Any]:
    told = {"step": one.step, "zone": one.zone, "value": one.value, "gauge": one.gauge}
    return told | {"time": format_time(one.time), "by": one.by}


def _used_mixes(judged: Judged) -> list[tuple[Mix, list[str]]]:
    """Each mix that went onto the van, with the steps it was used in. A mix's name may come again: the time of use decides."""
    found: dict[tuple[str, int], tuple[Mix, list[str]]] = {}
    used = ((run, name) for round_ in judged.job.rounds for run in round_.runs for name in run.mixes)
    for run, name in used:
        mix = judged.ledger.mix(name, run.end if run.end is not None else judged.as_of)
        if mix is not None:
            found.setdefault((mix.mix, mix.time), (mix, []))[1].append(run.step)
    return list(found.values())


def lots(judged: Judged) -> list[dict[str, Any]]:
    return [
        {"coating": mix.coating, "component": component, "lot": lot, "mix": mix.mix, "steps": steps}
        for mix, steps in _used_mixes(judged)
        for component, lot in mix.lots.items()
    ]


def mixes(judged: Judged) -> list[dict[str, Any]]:
    return [
        {
            "mix": mix.mix,
            "coating": mix.coating,
            "time": format_time(mix.time),
            "by": mix.by,
            "pot": mix.pot,
            "lots": dict(mix.lots),
        }
        for mix, _ in _used_mixes(judged)
    ]


def alarms(judged: Judged) -> list[dict[str, Any]]:
    """Each alarm about this vehicle, one row for each time that it appeared."""
    rows: list[dict[str, Any]] = []
    newest: dict[str, dict[str, Any]] = {}
    for entry in judged.entries("alarm"):
        move = read_transition(entry.body, entry.private)
        if move.alarm_id not in newest or move.cause is Event.APPEAR:
            rows.append({"alarm": move.alarm_id, "warned": None, "raised": format_time(move.at)})
            newest[move.alarm_id] = rows[-1]
        newest[move.alarm_id] |= moved(newest[move.alarm_id], move, entry.private.get("by"))
    return rows


def moved(row: dict[str, Any], move: Transition, by: str | None) -> dict[str, Any]:
    """What a transition changes of its alarm's row. One that gets worse is raised anew, and must be seen anew."""
    condition, at = move.condition, format_time(move.at)
    told = {
        "priority": condition.priority,
        "requirement": condition.requirement,
        "step": condition.step,
        "sentence": condition.sentence,
        "state": move.after.value,
    }
    if move.cause in (Event.APPEAR, Event.WORSEN):
        warned = at if condition.priority == "warning" else row["warned"]
        return told | {"warned": warned, "raised": at, "acknowledged": None, "acknowledged_by": None, "returned": None}
    if move.cause is Event.ACKNOWLEDGE:
        return told | {"acknowledged": at, "acknowledged_by": by}
    return told | ({"returned": at} if move.after in GONE and row.get("returned") is None else {})


def instruments(judged: Judged) -> Iterator[dict[str, Any]]:
    """The instruments that the record rests on, each with its newest calibration and the faults that touched the evidence."""
    used: dict[str, set[Interval]] = defaultdict(set)
    for case in cases(judged.job, judged.shop.processes[judged.job.process]):
        for requirement in requirements(case, judged.promises):
            faults = judged.gatherer.unhealthy(requirement, case)
            for name in judged.gatherer.points(requirement, case):
                used[name].update(one for one in faults if one.point == name)
    for name in sorted(used):
        booth_id, _, point_id = name.partition("/")
        instrument = judged.shop.booths[booth_id].points[point_id].instrument
        known = [one for one in judged.ledger.calibrations(name) if one.time <= judged.as_of]
        yield {
            "point": name,
            "name": instrument.name,
            "type": instrument.type,
            "expanded_uncertainty": instrument.expanded_uncertainty,
            "calibration": _calibration(known[-1]) if known else None,
            "faults": [told(one) for one in sorted(used[name], key=lambda one: (one.start, one.fault))],
        }


def _calibration(one: Calibration) -> dict[str, Any]:
    return {"time": format_time(one.time), "result": one.result, "valid_until": format_time(one.valid_until)}


def concessions(job: Job) -> list[dict[str, Any]]:
    return [_words(one) | {"requirement": one.about} for one in sayings(job, "concession")]


def corrections(judged: Judged) -> list[dict[str, Any]]:
    return [
        _words(one) | {"corrects": one.about, "what": _what(judged, one.about), "set": dict(one.set)}
        for one in sayings(judged.job, "correction")
    ]


def releases(job: Job) -> list[dict[str, Any]]:
    return [_words(one) for one in sayings(job, "release")]


def notes(job: Job) -> list[dict[str, Any]]:
    return [{"text": one.text, "by": one.by, "time": format_time(one.time)} for one in sayings(job, "note")]


def sayings(job: Job, kind: str) -> list[Saying]:
    return [one for one in job.sayings if one.kind == kind]


def _words(one: Saying) -> dict[str, Any]:
    return {"reason": one.text, "by": one.by, "time": format_time(one.time)}


def _what(judged: Judged, entry_id: str | None) -> str:
    entry = judged.store.journal.find(entry_id or "")
    return f"{entry.kind} of {format_time(entry.effective)}" if entry else "an entry that isn't here"
