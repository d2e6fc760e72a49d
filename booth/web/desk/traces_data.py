"""A record's traces for the page's charts: as fine as the screen can show, and every excursion, gap and limit kept.

Wide, each pixel column keeps the lowest and the highest reading in it; zoomed in, all readings. A line that ends in a gap carries
a null there, so the chart draws none through it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from booth.judge.assess import cases, requirements
from booth.judge.finding import Finding
from booth.judge.series import Series
from booth.judge.track import combine
from booth.reports.judged import Judged
from booth.reports.record_traces import build_traces
from booth.reports.traces import Band, LimitSpan, Line, Mark, Panel, Traces, decimate, segments
from booth.shop.requirement import ClimateTerms
from booth.times import SECOND, format_time, parse_time
from booth.units import KINDS, affine

COLUMNS = 800
MOST_COLUMNS = 4000
MARGIN_TITLE = "Dew-point margin"
KIND_OF = {"°C": "temperature", "%": "humidity", "m/s": "velocity", "m³/s": "flow", "K": "temperature_difference"}


@dataclass(frozen=True)
class PageTraces:
    """What the page draws: the record's traces with a panel for the margin, and the alarms of the record."""

    traces: Traces
    alarms: tuple[dict[str, Any], ...]  # of the record


def page_traces(judged: Judged, alarms: Iterable[dict[str, Any]]) -> PageTraces:
    """Of a judged job and its record's alarms."""
    traces = build_traces(judged)
    findings = [one for round_ in judged.assessment.rounds for one in round_.findings]
    allowed = _allowances(judged)
    panels = [panel for own in traces.panels for panel in (own, *_margin(own, findings, allowed))]
    return PageTraces(Traces(traces.start, traces.end, traces.bands, tuple(panels), traces.windows), tuple(alarms))


def _allowances(judged: Judged) -> dict[str, float]:
    """Requirement -> how much cooler than its probe a drying film is taken to be, K."""
    process = judged.shop.processes[judged.job.process]
    promised = (one for case in cases(judged.job, process) for one in requirements(case, judged.promises))
    return {one.id: one.terms.limit.allowance_k for one in promised if isinstance(one.terms, ClimateTerms)}


def _margin(panel: Panel, findings: list[Finding], allowed: Mapping[str, float]) -> Iterator[Panel]:
    """The coldest part's distance from the dew point, out of the temperatures' panel.

    The line is the probe's; where a film is taken to be cooler, the limit is drawn that much higher, which is the same.
    """
    parts = [line for line in panel.lines if line.label.startswith("part, ")]
    dew = next((line for line in panel.lines if line.label == "dew point"), None)
    if dew is None or not parts or not len(dew.times):
        return
    start, end = int(dew.times[0]), int(max(dew.times[-1], *(line.times[-1] for line in parts if len(line.times))))
    tracks = [Series(line.times, line.values, line.max_age_us) for line in [dew, *parts]]
    track = combine(lambda cold, *surfaces: np.fmin.reduce(surfaces) - cold, tracks, start, end)
    line = Line("coldest part − dew point", track.edges[:-1], track.values, dew.max_age_us)
    own = [one for one in findings if one.kind == "dew_point_margin" and one.start is not None and one.end is not None]
    limits = tuple(LimitSpan(one.start, one.end, one.low + allowed[one.requirement], None) for one in own if one.low is not None)
    marks = tuple(Mark(e.start, e.end, "dew point margin", one.verdict.value) for one in own for e in one.excursions)
    yield Panel(MARGIN_TITLE, "K", (line,), limits, marks)


def traces_json(page: PageTraces, start: int | None, end: int | None, columns: int, units: str) -> dict[str, Any]:
    """The stretch [start, end) as plain JSON. Times are seconds of Unix time, values in the units asked for ("SI" or "US")."""
    traces = page.traces
    begin = traces.start if start is None else max(start, traces.start)
    past = traces.end if end is None else min(end, traces.end)
    if past <= begin:
        begin, past = traces.start, traces.end
    columns = max(50, min(columns, MOST_COLUMNS))
    return {
        "whole": [traces.start / SECOND, traces.end / SECOND],
        "shown": [begin / SECOND, past / SECOND],
        "panels": [_panel(panel, begin, past, columns, units) for panel in traces.panels],
        "steps": [_band(band) for band in traces.bands],
        "windows": [_mark(mark) for mark in traces.windows],
        "alarms": [_alarm(one) for one in page.alarms],
    }


def _panel(panel: Panel, start: int, end: int, columns: int, units: str) -> dict[str, Any]:
    kind = KINDS[KIND_OF[panel.unit]]
    factor, offset = affine(kind.us, kind.name) if units == "US" else (1.0, 0.0)

    def shown(value: float | None) -> float | None:
        return None if value is None else round((value - offset) / factor, 4)

    def limit(one: LimitSpan) -> dict[str, Any]:
        return {"from": one.start / SECOND, "to": one.end / SECOND, "low": shown(one.low), "high": shown(one.high)}

    return {
        "title": panel.title,
        "unit": kind.us_symbol if units == "US" else kind.symbol,
        "digits": 2 if kind.name in ("velocity", "flow") and units != "US" else 1,
        "lines": [_line(line, start, end, columns, factor, offset) for line in panel.lines if len(line.times)],
        "limits": [limit(one) for one in panel.limits],
        "excursions": [_mark(mark) for mark in panel.excursions],
    }


def _line(line: Line, start: int, end: int, columns: int, factor: float, offset: float) -> dict[str, Any]:
    """One line over the stretch, with the reading on either side of it so that it runs off the edge."""
    first = max(0, int(np.searchsorted(line.times, start)) - 1)
    past = min(len(line.times), int(np.searchsorted(line.times, end)) + 1)
    cut = Line(line.label, line.times[first:past], line.values[first:past], line.max_age_us)
    times: list[float] = []
    values: list[float | None] = []
    raw = True
    for moments, measured in segments(cut):
        kept = decimate(moments, measured, start, end, columns) if len(cut.times) > 2 * columns else np.arange(len(moments))
        raw &= len(kept) == len(moments)
        if times:  # a gap: nothing is drawn between this stretch and the last one
            times.append(times[-1] + 0.001)
            values.append(None)
        times += np.round(moments[kept] / SECOND, 3).tolist()
        values += np.round((measured[kept] - offset) / factor, 4).tolist()
    return {"label": line.label, "times": times, "values": values, "raw": raw}


def _band(band: Band) -> dict[str, Any]:
    return {"label": band.label, "kind": band.kind, "from": band.start / SECOND, "to": band.end / SECOND}


def _mark(mark: Mark) -> dict[str, Any]:
    end = None if mark.end is None else mark.end / SECOND
    return {"label": mark.label, "verdict": mark.verdict, "from": mark.start / SECOND, "to": end}


def _alarm(row: dict[str, Any]) -> dict[str, Any]:
    end = None if row["returned"] is None else parse_time(row["returned"]) / SECOND
    return {"label": row["sentence"], "priority": row["priority"], "from": parse_time(row["raised"]) / SECOND, "to": end}


def excursion_rows(record: dict[str, Any]) -> list[dict[str, Any]]:
    """What the charts shade, as rows for whoever can't see them: each excursion of each finding, in order of time."""
    found = []
    for round_ in record["rounds"]:
        steps = [("whole round", round_["findings"]), *((step["step"], step["findings"]) for step in round_["steps"])]
        for step, findings in steps:
            for finding in findings:
                about = {key: finding[key] for key in ("requirement", "verdict", "quantity", "low", "high")}
                found += [about | excursion | {"step": step, "round": round_["round"]} for excursion in finding["excursions"]]
    return sorted(found, key=lambda row: (row["start"], row["requirement"]))


def gap_rows(page: PageTraces) -> list[dict[str, Any]]:
    """Stretches in which a line says nothing, longer than its readings may be old."""
    found = []
    for panel in page.traces.panels:
        for line in panel.lines:
            parts = segments(line)
            for (before, _), (after, _) in zip(parts, parts[1:], strict=False):
                seconds = int(after[0] - before[-1]) / SECOND
                span = {"start": format_time(int(before[-1])), "end": format_time(int(after[0]))}
                found.append({"line": line.label, "panel": panel.title, "seconds": seconds} | span)
    return sorted(found, key=lambda row: (row["start"], row["line"]))
