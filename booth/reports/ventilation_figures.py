"""Which charts a ventilation log shows: the air's course over the period, spraying shaded, gaps left open."""

from __future__ import annotations

from dataclasses import replace
from datetime import tzinfo

from booth.reports.charts import panel_chart
from booth.reports.figures import Figure
from booth.reports.traces import Band, LimitSpan, Line, Panel, Traces
from booth.reports.ventilation_air import Room

MOST_BANDS = 12
"""With more spells of spraying than this their names would only cover each other."""

PANELS = (
    ("Air velocity at the fixed probe", "m/s", "air_velocity"),
    ("Booth pressure", "Pa", "booth_pressure"),
    ("Filter pressure drop", "Pa", "filter_pressure_drop"),
)
CAPTION = "Heavy rule: the site’s limit while spraying, hatched on the side where the value may not be. Gaps are left open."


def build_traces(room: Room, start: int, end: int) -> Traces:
    """The readings of a period as lines. `panels` of measures that the booth has."""
    sprays = [(one.start, end if one.end is None else one.end) for one in room.in_mode("spray", start, end)]
    panels = []
    for title, unit, measure in PANELS:
        names = room.booth.measuring(measure)
        lines = tuple(_line(room, name, start, end) for name in names)
        low, high, _ = room.limit(measure)
        limits = tuple(LimitSpan(*one, low, high) for one in sprays) if (low, high) != (None, None) else ()
        if any(len(line.times) for line in lines):
            panels.append(Panel(title, unit, lines, limits))
    bands = tuple(Band("spray", "coat", *one) for one in sprays) if len(sprays) <= MOST_BANDS else ()
    return Traces(start, end, bands, tuple(panels))


def _line(room: Room, name: str, start: int, end: int) -> Line:
    series = room.series(name, start, end)
    return Line(name.replace("-", " "), series.times, series.values, series.max_age_us)


def figures(traces: Traces, zone: tzinfo) -> tuple[Figure, ...]:
    """From a little before the first reading to a little after the last: a night without any would only squeeze the day."""
    lines = [line for panel in traces.panels for line in panel.lines if len(line.times)]
    if not lines:
        return ()
    times = [int(moment) for line in lines for moment in (line.times[0], line.times[-1])]
    shown = replace(traces, start=max(traces.start, min(times)), end=min(traces.end, max(times) + 1))
    return tuple(
        Figure(panel.title, CAPTION, panel_chart(panel, shown, zone, f"air-{index}")) for index, panel in enumerate(traces.panels)
    )
