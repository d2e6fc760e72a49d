"""The charts: well-formed whatever the labels, true to gaps and extremes, readable in size, and distinct without colour."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import hostile
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.reports import patterns
from booth.reports.axes import Scale, lanes, number, time_ticks, value_ticks
from booth.reports.charts import panel_chart
from booth.reports.figures import record_figures
from booth.reports.traces import Band, LimitSpan, Line, Mark, Panel, Traces, decimate, segments
from booth.times import HOUR, MINUTE, SECOND, parse_time

UTC = UTC
SVG = "{http://www.w3.org/2000/svg}"
CHICAGO = ZoneInfo("America/Chicago")


def a_line(values: list[float], step: int = 5 * SECOND, max_age: int = 30 * SECOND, label: str = "air") -> Line:
    return Line(label, np.arange(len(values), dtype=np.int64) * step, np.array(values, np.float64), max_age)


def curves(drawn: str) -> list[str]:
    """The paths of the lines without the legend's samples (which use a relative h)."""
    paths = ElementTree.fromstring(drawn).iter(f"{SVG}path")
    return [path.get("d", "") for path in paths if path.get("class", "").startswith("line") and "h28" not in path.get("d", "")]


def chart(line: Line, **changes: object) -> str:
    panel = replace(Panel("Air", "°C", (line,)), **changes)
    return panel_chart(panel, Traces(0, int(line.times[-1]) + 1, (), (panel,)), UTC, "t")


def test_a_nan_breaks_the_line() -> None:
    drawn = chart(a_line([20, 21, np.nan, 21, 20]))
    assert len(curves(drawn)) == 2


def test_a_silence_longer_than_the_maximum_age_breaks_the_line_and_a_shorter_one_does_not() -> None:
    line = a_line([20.0, 21, 22, 23])
    late = replace(line, times=np.array([0, 5, 35, 66]) * SECOND)
    assert [len(times) for times, _ in segments(late)] == [3, 1]
    assert [len(times) for times, _ in segments(replace(late, max_age_us=31 * SECOND))] == [4]


def test_a_gap_is_marked_on_the_axis_with_its_name() -> None:
    values = [20.0] * 300
    values[100:200] = [np.nan] * 100
    drawn = chart(a_line(values))
    assert "no data: air" in drawn and len(curves(drawn)) == 2
    assert "no data" not in chart(a_line([20.0] * 300))


def test_a_reading_alone_between_gaps_is_still_seen() -> None:
    drawn = chart(a_line([20, np.nan, 25, np.nan, 20, 20]))
    markers = [element for element in ElementTree.fromstring(drawn).iter(f"{SVG}path") if "marker" in element.get("class", "")]
    assert len(markers) >= 3  # the legend's and the two readings alone


@given(st.lists(st.floats(-50, 150), min_size=1, max_size=400), st.integers(1, 60))
def test_decimation_keeps_ends_and_extremes_of_every_column(values: list[float], columns: int) -> None:
    times = np.arange(len(values), dtype=np.int64)
    kept = decimate(times, np.array(values), 0, len(values), columns)
    assert len(kept) <= 2 * columns + 2
    assert kept[0] == 0 and kept[-1] == len(values) - 1 and np.all(np.diff(kept) > 0)
    column = times * columns // len(values)
    for one in np.unique(column):
        inside = [values[at] for at in np.flatnonzero(column == one)]
        drawn = [values[at] for at in kept if column[at] == one]
        assert (min(drawn), max(drawn)) == (min(inside), max(inside))


def test_one_hot_reading_in_a_shift_is_drawn() -> None:
    values = [20.0] * 20_000
    values[12_345] = 31.0
    drawn = chart(a_line(values))
    top = min(float(y) for path in curves(drawn) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", path))
    rest = max(float(y) for path in curves(drawn) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", path))
    assert rest - top > 60
    assert sum(path.count("L") for path in curves(drawn)) < 1500


def test_charts_are_well_formed_with_text_of_at_least_11_px_and_a_known_font(traces: Traces) -> None:
    for figure in record_figures(traces, CHICAGO, "r"):
        root = ElementTree.fromstring(figure.svg)
        assert root.get("font-family") == "Libertinus Serif" and float(root.get("font-size", "0")) >= 11
        assert all(float(text.get("font-size", "11")) >= 11 for text in root.iter(f"{SVG}text"))
        assert root.find(f"{SVG}title") is not None and root.find(f"{SVG}desc") is not None
        numbers = re.findall(r' (?:x|y|x1|x2|y1|y2|width|height)="([^"]*)"', figure.svg)
        assert all(np.isfinite(float(value)) for value in numbers)


def test_hostile_labels_stay_text(traces: Traces) -> None:
    label = f"{hostile.MARKUP}{hostile.OVERRIDE}"
    bands = (Band(label, "coat", traces.start, traces.end),)
    panel = Panel(label, "°C", (a_line([20, 21], label=label),), (), (Mark(0, None, label, "missed"),))
    for figure in record_figures(Traces(0, HOUR, bands, (panel,), (Mark(0, None, label, "unproven"),)), UTC, "r"):
        root = ElementTree.fromstring(figure.svg)
        assert not list(root.iter(f"{SVG}script")) and not list(root.iter("script"))


def test_the_record_gets_a_timeline_three_wet_charts_and_the_bake_on_its_own_scale(traces: Traces) -> None:
    titles = [figure.title for figure in record_figures(traces, CHICAGO, "r")]
    temperature = "Air, part and dew-point temperature"
    assert titles == ["Timeline", temperature, "Relative humidity", "Air velocity", f"{temperature}, in the bake"]


def test_windows_and_excursions_show_their_verdicts_by_shape(traces: Traces) -> None:
    timeline, _, humidity, *_ = record_figures(traces, CHICAGO, "r")
    assert "bake start, 14 min late, 11:04–11:24" in timeline.svg and 'class="mark missed"' in timeline.svg
    assert "humidity not proven in clear-1" in humidity.svg and "url(#r-1-unproven)" in humidity.svg


def test_limits_are_labelled_and_joined_where_they_touch() -> None:
    limits = (LimitSpan(0, 10 * SECOND, 18.0, 30.0), LimitSpan(10 * SECOND, 20 * SECOND, 18.0, 30.0))
    drawn = chart(a_line([20.0] * 5), limits=limits)
    assert drawn.count("≥ 18 °C") == 1 and drawn.count("≤ 30 °C") == 1


def test_lines_and_steps_differ_without_colour() -> None:
    dashes = [dash for _, dash in patterns.LINE_STYLES]
    assert len(set(dashes)) == len(dashes)
    shapes = {re.sub(r"M0\.0 0\.0", "", re.search(r'd="([^"]*)"', patterns.marker(index, 0, 0)).group(1)) for index in range(6)}
    assert len(shapes) == 6
    fills = {patterns.fill("x", kind) for kind in ("check", "coat", "flash", "purge", "bake", "cool")}
    assert len(fills) == 6


def test_ticks_are_round_and_local() -> None:
    assert value_ticks(18.2, 33.1) == [20, 25, 30]
    assert [number(tick, 0.05) for tick in value_ticks(0.21, 0.49)] == ["0.25", "0.30", "0.35", "0.40", "0.45"]
    assert number(-0.0001, 0.5) == "0.0" and number(-2, 1) == "−2"
    start = parse_time("2026-07-13T11:05:00Z")
    ticks = time_ticks(start, start + 4 * HOUR, CHICAGO)
    assert [words for _, words in ticks] == ["06:30", "07:00", "07:30", "08:00", "08:30", "09:00", "09:30", "10:00"]
    night = parse_time("2026-07-14T03:00:00Z")
    assert "07-14" in [words for _, words in time_ticks(night, night + 4 * HOUR, CHICAGO)]


def test_scale_holds_what_lies_outside_at_the_edge() -> None:
    scale = Scale(0, 10, 100, 200)
    assert [scale(value) for value in (-5, 0, 5, 10, 15)] == [100, 100, 150, 200, 200]


@given(st.lists(st.tuples(st.floats(0, 700), st.floats(1, 120)), max_size=20))
def test_no_two_labels_in_one_lane_touch(labels: list[tuple[float, float]]) -> None:
    spans = sorted((left, left + width) for left, width in labels)
    chosen = lanes(spans)
    for lane in set(chosen):
        mine = [span for span, its in zip(spans, chosen, strict=True) if its == lane]
        assert all(before[1] < after[0] for before, after in zip(mine, mine[1:], strict=False))


@pytest.mark.parametrize("cut", [(0, 100 * SECOND), (50 * SECOND, 60 * SECOND)])
def test_a_shorter_stretch_keeps_only_what_lies_in_it(cut: tuple[int, int]) -> None:
    line = a_line([20.0] * 100)
    panel = Panel("Air", "°C", (line,), (LimitSpan(0, 10 * SECOND, 1, 2),), (Mark(55 * SECOND, None, "still", "missed"),))
    shown = Traces(0, 10 * MINUTE, (Band("a", "coat", 0, 20 * SECOND),), (panel,)).between(*cut)
    times = shown.panels[0].lines[0].times
    assert times[0] == cut[0] and times[-1] == cut[1]
    assert len(shown.bands) == len(shown.panels[0].limits) == (1 if cut[0] == 0 else 0)
    assert len(shown.panels[0].excursions) == 1
