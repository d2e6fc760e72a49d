"""The job on one clock: a row for each step and each window, in the order in which they began."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo

from booth.reports import patterns, svg
from booth.reports.axes import Scale, time_ticks
from booth.reports.traces import Band, Mark, Traces
from booth.times import SECOND, clock, duration_text

WIDTH, LEFT, RIGHT, ROW = 720.0, 116.0, 16.0, 21.0


def timeline(traces: Traces, zone: tzinfo, prefix: str) -> str:
    """Steps as bars, windows as brackets with their verdict's shape, excursions as shapes on the bars; an SVG 720 units wide."""
    across = Scale(traces.start, traces.end, LEFT, WIDTH - RIGHT)
    rows: list[Band | Mark] = sorted((*traces.bands, *traces.windows), key=lambda item: item.start)
    excursions = [mark for panel in traces.panels for mark in panel.excursions]
    bottom = 6 + len(rows) * ROW
    parts = [patterns.definitions(prefix), _axis(traces, across, bottom, zone)]
    for index, item in enumerate(rows):
        middle = 6 + (index + 0.5) * ROW
        if isinstance(item, Band):
            parts.append(_step(item, across, middle, zone, prefix) + _on_bar(item, excursions, across, middle))
        else:
            parts.append(_window(item, across, middle, zone))
    described = "; ".join(_spoken(item, zone) for item in rows)
    return svg.drawing(WIDTH, bottom + 20, "Timeline of the job", described, *parts)


def _spoken(item: Band | Mark, zone: tzinfo) -> str:
    until = f" to {clock(item.end, zone)}" if item.end is not None else ", still open"
    return f"{item.label} {clock(item.start, zone)}{until}"


def _axis(traces: Traces, across: Scale, bottom: float, zone: tzinfo) -> str:
    parts = [svg.line(LEFT, bottom, WIDTH - RIGHT, bottom, stroke="#1b1b1b", stroke_width=0.9, cls="frame")]
    for moment, words in time_ticks(traces.start, traces.end, zone):
        x = across(moment)
        parts.append(svg.line(x, 4, x, bottom, stroke="#d5dadf", stroke_width=0.7, cls="grid"))
        if LEFT + 4 <= x <= WIDTH - 16:
            parts.append(svg.text(x, bottom + 15, words, text_anchor="middle"))
    return "".join(parts)


def _step(band: Band, across: Scale, middle: float, zone: tzinfo, prefix: str) -> str:
    left = across(band.start)
    right = max(across(band.end), left + 2)
    shape = {"x": left, "y": middle - 6.5, "width": right - left, "height": 13.0}
    paint = svg.tag(
        "rect",
        **shape,
        fill=patterns.fill(prefix, band.kind),
        stroke=patterns.BAR,
        stroke_width=1,
        cls="bar coat" if band.kind == "coat" else "bar",
    )
    label = svg.text(LEFT - 8, middle + 4, svg.shorten(band.label, LEFT - 8), text_anchor="end")
    words = (
        f"{clock(band.start, zone)}–{clock(band.end, zone)} · {duration_text(round((band.end - band.start) / SECOND) * SECOND)}"
    )
    return paint + label + _beside(words, left, right, middle)


def _beside(words: str, left: float, right: float, middle: float) -> str:
    """To the right of the bar, or to its left where the paper ends."""
    if right + 8 + svg.width_of(words) < WIDTH:
        return svg.text(right + 7, middle + 4, words)
    return svg.text(left - 7, middle + 4, words, text_anchor="end")


def _on_bar(band: Band, excursions: Sequence[Mark], across: Scale, middle: float) -> str:
    parts, last = [], -100.0
    for mark in sorted(excursions, key=lambda mark: mark.start):
        x = across(mark.start)
        if band.start <= mark.start < band.end and x - last >= 10:
            backing = svg.tag("circle", cx=x, cy=middle, r=8, fill="#ffffff", cls="paper")
            parts.append(backing + svg.verdict_shape(mark.verdict, x, middle, 11))
            last = x
    return "".join(parts)


def _window(window: Mark, across: Scale, middle: float, zone: tzinfo) -> str:
    """A bracket from the earliest to the latest moment; an open one has an arrow for its end."""
    left = across(window.start)
    right = across(across.high if window.end is None else window.end)
    style = {"stroke": "#1b1b1b", "stroke_width": 1.2, "cls": "rule"}
    end = f"M{right - 5:.1f} {middle - 4:.1f}l5 4l-5 4" if window.end is None else f"M{right:.1f} {middle - 5:.1f}v10"
    bracket = svg.tag("path", d=f"M{left:.1f} {middle - 5:.1f}v10{end}", fill="none", **style)
    rule = svg.line(left, middle, right, middle, stroke_dasharray="3 2", **style)
    until = f"–{clock(window.end, zone)}" if window.end is not None else ""
    words = f"{window.label}, {clock(window.start, zone)}{until}"
    told = _window_words(window, words, left, min(right, WIDTH), middle)
    label = svg.text(LEFT - 8, middle + 4, "window", text_anchor="end", font_style="italic")
    return bracket + rule + label + told


def _window_words(window: Mark, words: str, left: float, right: float, middle: float) -> str:
    """Verdict and words: right of the bracket, or left of it, or on it where it spans the paper."""
    if right + 22 + svg.width_of(words) < WIDTH:
        return svg.verdict_shape(window.verdict, right + 12, middle, 12) + svg.text(right + 21, middle + 4, words)
    if left - 22 - svg.width_of(words) > LEFT:
        shape = svg.verdict_shape(window.verdict, left - 10, middle, 12)
        return shape + svg.text(left - 19, middle + 4, words, text_anchor="end")
    words = svg.shorten(words, right - left - 40)
    backing = svg.tag("rect", x=left + 8, y=middle - 8, width=svg.width_of(words) + 28, height=16, fill="#ffffff", cls="paper")
    shape = svg.verdict_shape(window.verdict, left + 18, middle, 12)
    return backing + shape + svg.text(left + 28, middle + 4, words)
