"""The readings of a job's booths as traces for the charts, with the limits, windows and excursions that were judged."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from booth.judge.course import course
from booth.judge.facts import Run
from booth.judge.finding import Finding
from booth.judge.series import Series
from booth.judge.track import combine
from booth.physics.moist_air import dew_point_c
from booth.reports.judged import Judged
from booth.reports.traces import Band, LimitSpan, Line, Mark, Panel, Traces
from booth.shop.room import Booth
from booth.times import MINUTE

BEFORE_US = 10 * MINUTE
PANELS = (
    ("Air, part and dew-point temperature", "°C", ("air_temperature",)),
    ("Humidity", "%", ("relative_humidity",)),
    ("Air velocity", "m/s", ("air_velocity",)),
    ("Air flow", "m³/s", ("air_flow",)),
)
WINDOWED = ("flash_maximum", "bake_start")


def build_traces(judged: Judged) -> Traces:
    """From a little before the first step to the last one's end, or to now where it is open."""
    process = judged.shop.processes[judged.job.process]
    runs = [run for round_ in judged.job.rounds for run in course(judged.job, round_, process).values()]
    if not runs:
        return Traces(judged.job.opened, judged.job.closed or judged.as_of)
    start = min(run.start for run in runs) - BEFORE_US
    end = max(_end(judged, run) for run in runs)
    findings = [one for round_ in judged.assessment.rounds for one in round_.findings]
    stays = list(_stays(judged, start, end))
    panels = tuple(panel for title, unit, measures in PANELS if (panel := _panel(judged, title, unit, measures, findings, stays)))
    bands = tuple(Band(run.step, run.kind, run.start, _end(judged, run)) for run in runs)
    return Traces(start, end, bands, panels, tuple(_windows(findings)))


def _end(judged: Judged, run: Run) -> int:
    return run.end if run.end is not None else judged.job.closed or judged.as_of


def _stays(judged: Judged, start: int, end: int) -> Iterator[tuple[str, Booth, int, int, dict[str, str]]]:
    """Which booth the van stood in, from when to when, with its probes."""
    for place in judged.job.places:
        booth = judged.shop.booths.get(place.booth)
        first, last = max(start, place.start), min(end, place.end if place.end is not None else end)
        if booth is not None and booth.mode_point is not None and last > first:
            yield place.booth, booth, first, last, dict(place.probes)


def _panel(judged: Judged, title: str, unit: str, measures: tuple, findings: list[Finding], stays: list) -> Panel | None:
    lines: list[Line] = []
    for booth_id, booth, start, end, probes in stays:
        for measure in measures:
            for name in booth.measuring(measure)[:1]:
                lines.append(_line(judged, name.replace("-", " "), booth_id, booth, name, start, end))
        if "air_temperature" in measures:
            lines += [_line(judged, f"part, {zone}", booth_id, booth, name, start, end) for name, zone in probes.items()]
            lines += _dew_point(judged, booth_id, booth, start, end)
    if not any(len(line.times) for line in lines):
        return None
    wanted = {*measures, *(("part_temperature",) if "air_temperature" in measures else ())}
    own = [one for one in findings if one.kind in wanted and one.start is not None and one.end is not None]
    limits = tuple(LimitSpan(one.start, one.end, one.low, one.high) for one in own if one.kind in measures)
    marked = own + [one for one in findings if one.kind == "dew_point_margin" and "air_temperature" in measures]
    marks = tuple(Mark(e.start, e.end, one.kind.replace("_", " "), one.verdict.value) for one in marked for e in one.excursions)
    return Panel(title, unit, tuple(_joined(lines)), limits, marks)


def _line(judged: Judged, label: str, booth_id: str, booth: Booth, name: str, start: int, end: int) -> Line:
    point = booth.points[name]
    series = judged.store.readings.evidence(f"{booth_id}/{name}", start, end, point.max_age, judged.gatherer.known_by)
    return Line(label, series.times, series.values, point.max_age)


def _dew_point(judged: Judged, booth_id: str, booth: Booth, start: int, end: int) -> Iterator[Line]:
    air, humidity = booth.measuring("air_temperature")[:1], booth.measuring("relative_humidity")[:1]
    if air and humidity:
        series: list[Series] = [
            judged.store.readings.evidence(f"{booth_id}/{name}", start, end, booth.points[name].max_age, judged.gatherer.known_by)
            for name in (air[0], humidity[0])
        ]
        too_hot = booth.points[humidity[0]].operating_to
        track = combine(dew_point_c, series, start, end)
        held_air = combine(lambda air_c, _rh: air_c, series, start, end).values
        values = np.where(held_air > too_hot, np.nan, track.values) if too_hot is not None else track.values
        yield Line("dew point", track.edges[:-1], values, booth.points[air[0]].max_age)


def _joined(lines: list[Line]) -> Iterator[Line]:
    """Lines of one label, from one stay after another, as one."""
    for label in dict.fromkeys(line.label for line in lines):
        own = [line for line in lines if line.label == label]
        times = np.concatenate([line.times for line in own])
        order = np.argsort(times, kind="stable")
        yield Line(label, times[order], np.concatenate([line.values for line in own])[order], own[0].max_age_us)


def _windows(findings: list[Finding]) -> Iterator[Mark]:
    # Two requirements make one window: not before the minimum, not after the maximum.
    earliest = {one.step: one.window.earliest for one in findings if one.kind == "flash_minimum" and one.window is not None}
    for one in findings:
        if one.kind in WINDOWED and one.window is not None and one.window.latest is not None:
            known = one.window.earliest if one.window.earliest is not None else earliest.get(one.step)
            start = known if known is not None else one.start
            if start is not None and start < one.window.latest:
                label = f"{one.step}: window" if one.kind == "flash_maximum" else "window for the bake to start"
                yield Mark(start, one.window.latest, label, one.verdict.value)
