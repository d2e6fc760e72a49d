"""Which charts a record shows: the timeline, each panel over the wet steps, and the bake's temperatures on their own scale."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import tzinfo

from booth.reports.charts import panel_chart
from booth.reports.timeline import timeline
from booth.reports.traces import Panel, Traces
from booth.times import MINUTE

MARGIN = 5 * MINUTE


@dataclass(frozen=True)
class Figure:
    """A picture with the words under it."""

    title: str
    caption: str
    svg: str


def record_figures(traces: Traces, zone: tzinfo, prefix: str) -> list[Figure]:
    """All charts of one round; `prefix` keeps their ids apart from another round's on the same page."""
    figures = []
    if traces.bands or traces.windows:
        figures.append(Figure("Timeline", _TIMELINE, timeline(traces, zone, f"{prefix}-time")))
    wet, bake = _wet(traces), _bake(traces)
    parts = [(wet, panel, "") for panel in wet.panels] if wet else []
    if bake:
        parts += [(bake, panel, ", in the bake") for panel in bake.panels if panel.unit in ("°C", "degC")]
    for index, (stretch, panel, suffix) in enumerate(parts):
        shown = replace(panel, lines=tuple(line for line in panel.lines if len(line.times)), title=panel.title + suffix)
        if shown.lines:
            figures.append(Figure(shown.title, _caption(shown), panel_chart(shown, stretch, zone, f"{prefix}-{index}")))
    return figures


_TIMELINE = (
    "Bars are steps, dashed brackets the windows in which the next step had to begin. A shape on a bar marks an excursion."
)


def _caption(panel: Panel) -> str:
    told = ["Shaded: coat or bake."]
    if panel.limits:
        told.append("Heavy rule: limit, hatched on the side where the value may not be.")
    if panel.excursions:
        told.append("Striped: beyond a limit or not proven.")
    return " ".join(told)


def _wet(traces: Traces) -> Traces | None:
    """From shortly before the first coat until the bake: the checks before it would only squeeze it."""
    bands = traces.bands
    begin = min((band.start for band in bands if band.kind == "coat"), default=traces.start)
    bakes = [band.start for band in bands if band.kind == "bake" and band.start > begin]
    wet = [band.end for band in bands if band.kind in ("coat", "flash", "purge") and band.start >= begin]
    end = min(bakes) if bakes else max(wet) + MARGIN if wet else traces.end
    begin, end = max(begin - MARGIN, traces.start), min(end, traces.end)
    return traces.between(begin, end) if end > begin else None


def _bake(traces: Traces) -> Traces | None:
    hot = [band for band in traces.bands if band.kind in ("bake", "cool")]
    if not any(band.kind == "bake" for band in hot):
        return None
    begin = max(min(band.start for band in hot) - MARGIN, traces.start)
    return traces.between(begin, min(max(band.end for band in hot) + MARGIN, traces.end))
