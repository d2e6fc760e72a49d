"""One panel of readings as a chart: steps above, limits hatched on the forbidden side, gaps left open, excursions marked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import tzinfo

from booth.reports import patterns, svg
from booth.reports.axes import Scale, lanes, number, time_ticks, value_ticks
from booth.reports.traces import Band, LimitSpan, Line, Mark, Panel, Traces, decimate, segments
from booth.units import KINDS, affine

WIDTH, LEFT, RIGHT = 720.0, 48.0, 54.0
PLOT_HEIGHT, LANE = 168.0, 16.0
HALO = {"stroke": "#ffffff", "stroke_width": 3, "paint_order": "stroke", "stroke_linejoin": "round", "cls": "ink halo"}
_UNIT_KINDS = {kind.symbol: kind.name for kind in KINDS.values() if kind.us_symbol != kind.symbol and kind.name != "duration"}


def panel_chart(panel: Panel, traces: Traces, zone: tzinfo, prefix: str) -> str:
    """The panel over [traces.start, traces.end) as SVG text, 720 units wide; `prefix` makes its ids unique on a page."""
    across = Scale(traces.start, traces.end, LEFT, WIDTH - RIGHT)
    legend, legend_height = _legend(panel.lines)
    bands, bands_height = _band_labels(traces.bands, across, legend_height)
    marks, marks_height = _mark_labels(panel.excursions, across, legend_height + bands_height)
    top = legend_height + bands_height + marks_height + 2
    bottom = top + PLOT_HEIGHT
    low, high = _range(panel)
    up = Scale(low, high, bottom, top)
    drawn = (
        _band_edges(traces.bands, across, legend_height, top, bottom),
        _grid(panel.unit, up, bottom),
        _stripes(panel.excursions, across, top, bottom, prefix),
        "".join(_limit(limit, across, up, prefix) for limit in _merged(panel.limits)),
        _limit_labels(panel, across, up),
        "".join(_curve(line, index, across, up) for index, line in enumerate(panel.lines)),
        _gaps(panel.lines, across, bottom),
        _time_axis(traces, across, top, bottom, zone),
    )
    names = ", ".join(line.label for line in panel.lines)
    described = f"{names} in {panel.unit} over time. The findings table has the figures."
    head = (patterns.definitions(prefix), legend, bands, marks)
    return svg.drawing(WIDTH, bottom + 22, panel.title, described, *head, *drawn)


def _range(panel: Panel) -> tuple[float, float]:
    values = [float(value) for line in panel.lines for _, part in segments(line) for value in (part.min(), part.max())]
    values += [value for limit in panel.limits for value in (limit.low, limit.high) if value is not None]
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    room = max((high - low) * 0.16, abs(high) * 0.02, 1e-3)  # for the limits' hatching and labels beyond the last of them
    return low - room, high + room


def _legend(lines: Sequence[Line]) -> tuple[str, float]:
    x, y, parts = LEFT, 11.0, []
    for index, line in enumerate(lines):
        width = 34 + svg.width_of(line.label) + 14
        if x + width > WIDTH and x > LEFT:
            x, y = LEFT, y + LANE
        parts += [_stroke(f"M{x:.1f} {y - 4:.1f}h28", index), patterns.marker(index, x + 14, y - 4)]
        parts.append(svg.text(x + 34, y, svg.shorten(line.label, WIDTH - x - 40)))
        x += width
    return "".join(parts), y + 7


def _stroke(path: str, index: int) -> str:
    colour, dashes = patterns.LINE_STYLES[index % len(patterns.LINE_STYLES)]
    style = f"line l{index % len(patterns.LINE_STYLES)}"
    return svg.tag(
        "path", d=path, fill="none", stroke=colour, stroke_width=1.5, stroke_dasharray=dashes, stroke_linejoin="round", cls=style
    )


def _band_labels(bands: Sequence[Band], across: Scale, top: float) -> tuple[str, float]:
    """The steps' names over their bands, in as many lanes as it takes to read them all."""
    placed = []
    for band in sorted(bands, key=lambda band: band.start):
        width = svg.width_of(band.label) + 2
        middle = (across(band.start) + across(band.end)) / 2
        placed.append((band, min(max(middle, LEFT + width / 2), WIDTH - RIGHT - width / 2), width))
    chosen = lanes([(x - width / 2, x + width / 2) for _, x, width in placed])
    height = (max(chosen) + 1) * LANE + 2 if chosen else 0.0
    leaders, labels = [], []
    for (band, x, _), lane in zip(placed, chosen, strict=True):
        middle = (across(band.start) + across(band.end)) / 2
        leaders.append(
            svg.line(middle, top + 16 + lane * LANE, middle, top + height, stroke="#9aa3ad", stroke_width=0.7, cls="edge")
        )
        labels.append(svg.text(x, top + 12 + lane * LANE, band.label, text_anchor="middle", **HALO))
    return "".join(leaders + labels), height


def _mark_labels(marks: Sequence[Mark], across: Scale, top: float, most: int = 6) -> tuple[str, float]:
    """Shape and words of the longest excursions; the others keep their stripe and stand in the findings."""
    longest = sorted(marks, key=lambda mark: (mark.end or math.inf) - mark.start, reverse=True)[:most]
    placed = []
    for mark in sorted(longest, key=lambda mark: mark.start):
        words = svg.shorten(mark.label, WIDTH - LEFT - 24)
        width = 16 + svg.width_of(words)
        placed.append((mark, words, max(0.0, min(across(mark.start) - 6, WIDTH - 4 - width)), width))
    chosen = lanes([(x, x + width) for _, _, x, width in placed])
    parts = []
    for (mark, words, x, _), lane in zip(placed, chosen, strict=True):
        y = top + 12 + lane * LANE
        parts += [svg.verdict_shape(mark.verdict, x + 6, y - 4, 12), svg.text(x + 16, y, words)]
    return "".join(parts), (max(chosen) + 1) * LANE if chosen else 0.0


def _band_edges(bands: Sequence[Band], across: Scale, labels: float, top: float, bottom: float) -> str:
    shades = [
        svg.tag(
            "rect",
            x=across(band.start),
            y=top,
            width=across(band.end) - across(band.start),
            height=bottom - top,
            fill="#eef1f4",
            cls="shade",
        )
        for band in bands
        if band.kind in ("coat", "bake")
    ]
    moments = sorted({moment for band in bands for moment in (band.start, band.end)})
    edges = [svg.line(x, top, x, bottom, stroke="#9aa3ad", stroke_width=0.7, cls="edge") for x in map(across, moments)]
    return "".join(shades + edges)


def _grid(unit: str, up: Scale, bottom: float) -> str:
    """Horizontal rules with the metric value at the left and the US customary one at the right."""
    ticks = value_ticks(up.low, up.high)
    step = ticks[1] - ticks[0] if len(ticks) > 1 else 1.0
    kind = _UNIT_KINDS.get(unit)
    parts = []
    for tick in ticks:
        y = up(tick)
        parts.append(svg.line(LEFT, y, WIDTH - RIGHT, y, stroke="#d5dadf", stroke_width=0.7, cls="grid"))
        if y > bottom - 9:  # the unit's own place
            continue
        parts.append(svg.text(LEFT - 5, y + 4, number(tick, step), text_anchor="end"))
        if kind:
            factor, offset = affine(KINDS[kind].us, kind)
            parts.append(svg.text(WIDTH - RIGHT + 5, y + 4, number((tick - offset) / factor, step / factor)))
    parts.append(svg.text(LEFT - 5, bottom + 15, unit, text_anchor="end", font_weight="bold"))
    if kind:
        parts.append(svg.text(WIDTH - RIGHT + 5, bottom + 15, KINDS[kind].us_symbol, font_weight="bold"))
    return "".join(parts)


def _stripes(marks: Sequence[Mark], across: Scale, top: float, bottom: float, prefix: str) -> str:
    parts = []
    for mark in marks:
        left = across(mark.start)
        right = max(across(across.high if mark.end is None else mark.end), left + 1.5)
        paint = patterns.fill(prefix, mark.verdict)
        parts.append(svg.tag("rect", x=left, y=top, width=right - left, height=bottom - top, fill=paint, fill_opacity=0.45))
        for x in (left, right):
            colour = svg.MARK_COLOURS[mark.verdict]
            parts.append(svg.line(x, top - 2, x, bottom, stroke=colour, stroke_width=1.1, cls=f"mark {mark.verdict}"))
    return "".join(parts)


def _merged(limits: Sequence[LimitSpan]) -> list[LimitSpan]:
    """The same limit over touching spans drawn once."""
    merged: list[LimitSpan] = []
    for limit in sorted(limits, key=lambda limit: limit.start):
        for index, last in enumerate(merged):
            if (last.low, last.high) == (limit.low, limit.high) and limit.start <= last.end:
                merged[index] = LimitSpan(last.start, max(last.end, limit.end), last.low, last.high)
                break
        else:
            merged.append(limit)
    return merged


def _limit(limit: LimitSpan, across: Scale, up: Scale, prefix: str) -> str:
    """The line that may not be crossed, hatched on the side where the value may not be."""
    left, right = across(limit.start), across(limit.end)
    parts = []
    for value, toward in ((limit.low, 0.0), (limit.high, -7.0)):
        if value is None or right <= left:
            continue
        y = up(value)
        parts.append(svg.tag("rect", x=left, y=y + toward, width=right - left, height=7, fill=patterns.fill(prefix, "beyond")))
        parts.append(svg.line(left, y, right, y, stroke="#1b1b1b", stroke_width=1.3, cls="rule"))
    return "".join(parts)


def _limit_labels(panel: Panel, across: Scale, up: Scale) -> str:
    """`≥ 20` and `≤ 30` where a limit begins; not again where the same one goes on or where there is no room."""
    parts, taken = [], []
    for limit in _merged(panel.limits):
        for value, sign, drop in ((limit.low, "≥", 18.0), (limit.high, "≤", -9.0)):
            if value is None:
                continue
            words = f"{sign} {value:g} {panel.unit}".replace("-", "−")
            x, y, width = across(limit.start) + 3, up(value) + drop, svg.width_of(words)
            x = min(x, WIDTH - RIGHT - width)
            if any(
                abs(y - other_y) < 12 and x < other_x + other_width and other_x < x + width
                for other_x, other_y, other_width in taken
            ):
                continue
            taken.append((x, y, width))
            parts.append(svg.text(x, y, words, **HALO))
    return "".join(parts)


def _curve(line: Line, index: int, across: Scale, up: Scale) -> str:
    """The line in pieces, one for each stretch without a gap; a reading alone between two gaps is a dot."""
    parts, marked = [], LEFT + 20 + 23 * index - 90
    for times, values in segments(line):
        kept = decimate(times, values, int(across.low), int(across.high), int(WIDTH - LEFT - RIGHT))
        points = [(across(float(times[at])), up(float(values[at]))) for at in kept]
        if len(points) == 1:
            parts.append(patterns.marker(index, *points[0]))
            continue
        parts.append(_stroke("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points), index))
        for x, y in points:
            if x >= marked + 90:
                parts.append(patterns.marker(index, x, y))
                marked = x
    return "".join(parts)


def _gaps(lines: Sequence[Line], across: Scale, bottom: float) -> str:
    """A bar on the axis where a line that is there before and after is silent, with its name if it fits."""
    parts = []
    for line in lines:
        found = segments(line)
        for (before, _), (after, _) in zip(found, found[1:], strict=False):
            left, right = across(float(before[-1]) + line.max_age_us), across(float(after[0]))
            if right - left < 3:
                continue
            parts.append(svg.tag("rect", x=left, y=bottom - 5, width=right - left, height=5, fill="#6b7280", cls="gap"))
            words = f"no data: {line.label}"
            x = min(max((left + right) / 2, LEFT + svg.width_of(words) / 2), WIDTH - RIGHT - svg.width_of(words) / 2)
            parts.append(svg.text(x, bottom - 9, words, text_anchor="middle", **HALO))
    return "".join(parts)


def _time_axis(traces: Traces, across: Scale, top: float, bottom: float, zone: tzinfo) -> str:
    frame = svg.tag(
        "rect",
        x=LEFT,
        y=top,
        width=WIDTH - LEFT - RIGHT,
        height=bottom - top,
        fill="none",
        stroke="#1b1b1b",
        stroke_width=0.9,
        cls="frame",
    )
    parts = [frame]
    for moment, words in time_ticks(traces.start, traces.end, zone):
        x = across(moment)
        parts.append(svg.line(x, bottom, x, bottom + 4, stroke="#1b1b1b", stroke_width=0.9, cls="frame"))
        if LEFT + 12 < x < WIDTH - RIGHT - 12:
            parts.append(svg.text(x, bottom + 16, words, text_anchor="middle"))
    return "".join(parts)
