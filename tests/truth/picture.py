"""A wrong verdict as a picture: what was so, what the instruments said, the limit, and the stretch that was judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from booth.reports.svg import drawing, line, tag, text
from booth.shop.shop import Shop
from booth.times import SECOND, parse_time
from simulators.any_shift import any_shift
from simulators.plain.signals import WatchedPlant
from tests.truth.shift import Row, Script, judged_spans

WIDTH, HEIGHT, LEFT, TOP, BOTTOM, RIGHT = 900.0, 420.0, 70.0, 70.0, 50.0, 20.0
AROUND_S = 300
TRUE, READ, LIMIT = "#1d5c2f", "#7a4700", "#a3161f"
MEASURES = {
    "air_temperature": ("air_temperature", ("air-temperature",), "°C"),
    "relative_humidity": ("relative_humidity", ("humidity",), "%"),
    "air_velocity": ("air_velocity", ("air-velocity",), "m/s"),
    "booth_pressure": ("booth_pressure", ("booth-pressure",), "Pa"),
    "purge_volumes": ("fresh_flow", ("exhaust-flow",), "m³/s"),
}
"""Kind of requirement -> true series, points that measure it, unit. All others go by the part probes."""


@dataclass(frozen=True)
class Line:
    """Seconds after midnight and values."""

    label: str
    times: np.ndarray
    values: np.ndarray
    colour: str


def draw(row: Row, shop: Shop, script: Script = any_shift) -> str:
    """The SVG of one wrong verdict; the shift is simulated and judged anew."""
    scenario = script(row.seed, True)
    plant = WatchedPlant(row.seed, scenario)
    ticks = list(plant.messages())
    start, end, low, high = judged_spans(row.seed, shop, script)[row.requirement]
    first, last = max(scenario.start, start - AROUND_S), min(scenario.end, end + AROUND_S)
    series, points, unit = MEASURES.get(row.kind, ("", ("part-1", "part-2", "part-3"), "°C"))
    signals, seconds = plant.signals(), np.arange(first, last)
    if series:
        lines = [Line("true", seconds, signals.of(series, first, last), TRUE)]
    else:
        lines = [Line(f"true {zone}", seconds, signals.skin(zone, first, last), TRUE) for zone in sorted(signals.skins)]
    booth = scenario.visits[0].booth
    lines += [_read(f"{booth}/{point}", ticks, scenario.midnight, first, last) for point in points]
    if row.kind == "dew_point_margin":
        lines.append(Line("true dew point", seconds, signals.of("dew_point", first, last), LIMIT))
    limits = (
        [limit for limit in (low, high) if limit is not None]
        if series or row.kind in ("part_temperature", "peak", "cool_below")
        else []
    )
    return _drawn(row, lines, limits, (start, end), unit)


def _read(point: str, ticks: list, midnight: int, first: int, last: int) -> Line:
    """What the instrument said, by the times that it gave."""
    said = [
        ((parse_time(body["time"]) - midnight) / SECOND, body["value"])
        for _, messages in ticks
        for topic, body in messages
        if topic == f"shop/{point}"
    ]
    inside = sorted((time, value) for time, value in said if first <= time < last)
    times, values = np.array(inside).reshape(-1, 2).T
    return Line(f"read {point}", times, values, READ)


def _drawn(row: Row, lines: list[Line], limits: list[float], span: tuple[int, int], unit: str) -> str:
    first, last = min(one.times[0] for one in lines if len(one.times)), max(one.times[-1] for one in lines if len(one.times))
    values = np.concatenate([*(one.values for one in lines), np.array(limits)])
    low, high = float(values.min()), float(values.max())
    pad = 0.05 * (high - low) or 1.0

    def x(second: float) -> float:
        return float(LEFT + (second - first) / (last - first) * (WIDTH - LEFT - RIGHT))

    def y(value: float) -> float:
        return float(TOP + (high + pad - value) / (high - low + 2 * pad) * (HEIGHT - TOP - BOTTOM))

    body = [tag("rect", x=x(span[0]), y=TOP, width=x(span[1]) - x(span[0]), height=HEIGHT - TOP - BOTTOM, fill="#eeeae2")]
    body += [line(LEFT, y(limit), WIDTH - RIGHT, y(limit), stroke=LIMIT, stroke_dasharray="6 4") for limit in limits]
    for one in lines:
        # An instrument's readings are dots, the truth is a line: told apart without colour.
        if one.colour == READ:
            body += [tag("circle", cx=x(a), cy=y(b), r=1.5, fill=READ) for a, b in zip(one.times, one.values, strict=True)]
        else:
            points = " ".join(f"{x(a):.1f},{y(b):.1f}" for a, b in zip(one.times[::5], one.values[::5], strict=True))
            body.append(tag("polyline", points=points, fill="none", stroke=one.colour, stroke_width=1.5))
    body += [text(4, y(value) + 4, f"{value:.3g} {unit}") for value in (low, high, *limits)]
    body += [text(x(at), HEIGHT - 28, _clock(at), text_anchor="middle") for at in np.linspace(first, last, 7)[1:-1]]
    body.append(text(LEFT, HEIGHT - 8, "; ".join(one.label for one in lines) + "; shaded: the stretch that was judged"))
    title = f"Seed {row.seed}, {row.requirement}: called {row.verdict}, true margin {row.margin:.3g} {row.unit}"
    body += [text(LEFT, 24, title, font_size=16), text(LEFT, 46, row.sentence[:130])]
    return drawing(WIDTH, HEIGHT, title, row.sentence, *body)


def _clock(second: float) -> str:
    return f"{int(second // 3600):02d}:{int(second % 3600 // 60):02d}"
