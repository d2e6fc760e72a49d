"""What the charts are given, held against the raw readings, numpy, and psychrolib."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import psychrolib
import pytest

from booth.reports.judged import judge_vehicle
from booth.reports.record import build_record
from booth.reports.traces import Line, Mark, Panel, Traces
from booth.store import Store
from booth.times import SECOND
from booth.web.desk.traces_data import PageTraces, excursion_rows, gap_rows, page_traces, traces_json
from tests.app.plants import END, VAN, demo_shop

HOUR_S = 3600


def made(values: np.ndarray, seconds: np.ndarray | None = None) -> PageTraces:
    """One line at 1 Hz from the epoch on."""
    seconds = np.arange(len(values)) if seconds is None else seconds
    line = Line("air temperature", seconds.astype(np.int64) * SECOND, values, 15 * SECOND)
    return PageTraces(Traces(0, int(seconds[-1] + 1) * SECOND, (), (Panel("Temperature", "°C", (line,)),)), ())


def drawn(page: PageTraces, start: float | None = None, end: float | None = None, columns: int = 800, units: str = "SI") -> dict:
    ends = (None if one is None else round(one * SECOND) for one in (start, end))
    return traces_json(page, *ends, columns, units)["panels"][0]["lines"][0]


def test_wide_zoom_keeps_the_lowest_and_highest_of_every_column() -> None:
    """Against numpy's own minimum and maximum of each column, over 8 hours at 1 Hz."""
    chance = np.random.default_rng(4)
    values = 23 + np.cumsum(chance.normal(0, 0.01, 8 * HOUR_S))
    line = drawn(made(values))
    assert line["raw"] is False and len(line["times"]) <= 2 * 800 + 2
    column = np.arange(len(values)) * 800 // len(values)
    shown_in = (np.array(line["times"]) * 800 // len(values)).astype(int)
    shown = np.array(line["values"])
    for number in range(800):
        mine = values[column == number]
        assert shown[shown_in == number].min() == pytest.approx(mine.min(), abs=5e-5)
        assert shown[shown_in == number].max() == pytest.approx(mine.max(), abs=5e-5)


def test_an_excursion_of_one_second_in_eight_hours_is_still_seen() -> None:
    values = np.full(8 * HOUR_S, 23.0)
    values[12_345] = 61.5
    line = drawn(made(values), columns=200)
    assert line["values"][line["times"].index(12_345.0)] == 61.5


def test_two_minutes_are_given_reading_by_reading_and_run_off_the_edges() -> None:
    line = drawn(made(np.arange(8.0 * HOUR_S)), 1000, 1120)
    assert line["raw"] is True
    assert line["times"] == [float(second) for second in range(999, 1121)]
    assert line["values"] == [float(second) for second in range(999, 1121)]


@pytest.mark.parametrize("columns", [50, 800, 4000])
def test_a_silence_is_a_gap_at_every_zoom(columns: int) -> None:
    seconds = np.concatenate([np.arange(3000), np.arange(3016, 6000), np.arange(6014, 9000)])
    page = made(np.full(len(seconds), 23.0), seconds)
    line = drawn(page, columns=columns)
    nulls = [line["times"][index] for index, value in enumerate(line["values"]) if value is None]
    assert nulls == [pytest.approx(2999.001)]  # 17 s are a silence; 15 s, which a reading holds, are not
    assert [row["seconds"] for row in gap_rows(page)] == [17.0]


def test_no_reading_that_is_unknown_is_drawn() -> None:
    values = np.full(100, 23.0)
    values[40:60] = np.nan
    line = drawn(made(values))
    assert [one for one in line["values"] if one is None] == [None]
    assert not {float(second) for second in range(40, 60)} & set(line["times"])


def test_units_of_the_screen() -> None:
    """°F by its definition, 9/5 and 32 (NIST SP 811)."""
    line = drawn(made(np.array([0.0, 20.0, 100.0])), units="US")
    assert line["values"] == [32.0, 68.0, 212.0]
    panel = Panel("Dew-point margin", "K", (Line("margin", np.array([0, SECOND]), np.array([3.0, 5.0]), SECOND),))
    shown = traces_json(PageTraces(Traces(0, SECOND, (), (panel,)), ()), None, None, 800, "US")["panels"][0]
    assert shown["lines"][0]["values"] == [5.4, 9.0]  # a difference has no offset


def test_a_stretch_outside_the_job_shows_the_whole_job() -> None:
    page = made(np.full(100, 23.0))
    assert traces_json(page, 10**15, 2 * 10**15, 800, "SI")["shown"] == [0.0, 100.0]
    assert traces_json(page, 50 * SECOND, 40 * SECOND, 800, "SI")["shown"] == [0.0, 100.0]


def test_open_ends_are_null() -> None:
    page = made(np.full(10, 23.0))
    marked = replace(page.traces, windows=(Mark(5 * SECOND, None, "window", "unproven"),))
    assert traces_json(PageTraces(marked, ()), None, None, 800, "SI")["windows"][0]["to"] is None


@pytest.fixture(scope="module")
def real(played_store: Path) -> tuple[PageTraces, dict]:
    with Store.open(played_store) as store:
        judged = judge_vehicle(demo_shop(), store, VAN, END)
        record = build_record(judged)
        return page_traces(judged, record["alarms"]), record


def test_margin_is_the_coldest_part_less_the_dew_point(real: tuple[PageTraces, dict]) -> None:
    """Against psychrolib's dew point from the very readings of the other panels; it is within 0.02 K of ours above 0 °C."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    panels = {panel.title: panel for panel in real[0].traces.panels}
    margin = panels["Dew-point margin"].lines[0]
    lines = {line.label: line for line in panels["Air, part and dew-point temperature"].lines}
    humidity = panels["Humidity"].lines[0]
    compared = 0
    for moment, value in list(zip(margin.times, margin.values, strict=True))[::97]:
        if np.isnan(value):
            continue
        held = {name: _held(line, moment) for name, line in lines.items() if name.startswith(("part", "air"))}
        coldest = min(one for name, one in held.items() if name.startswith("part") and one is not None)
        dew = psychrolib.GetTDewPointFromRelHum(held["air temperature"], _held(humidity, moment) / 100)
        assert value == pytest.approx(coldest - dew, abs=0.02)
        compared += 1
    assert compared > 10


def _held(line: Line, moment: int) -> float | None:
    index = int(np.searchsorted(line.times, moment, side="right")) - 1
    old = index < 0 or moment - line.times[index] > line.max_age_us
    return None if old else float(line.values[index])


def test_all_of_it_is_plain_json_with_the_steps_in_order(real: tuple[PageTraces, dict]) -> None:
    told = json.loads(json.dumps(traces_json(real[0], None, None, 800, "SI"), allow_nan=False))
    assert [step["label"] for step in told["steps"]][:3] == ["sealer", "sealer-flash", "base-1"]
    assert [panel["unit"] for panel in told["panels"]] == ["°C", "K", "%", "m/s", "m³/s"]
    assert all(limit["low"] is not None for limit in told["panels"][1]["limits"])


def test_the_words_list_what_the_charts_shade(real: tuple[PageTraces, dict]) -> None:
    """Each excursion that a panel shades stands in the list, with the same ends."""
    listed = {(row["start"], row["end"]) for row in excursion_rows(real[1])}
    from booth.times import format_time

    shaded = {(format_time(mark.start), format_time(mark.end)) for panel in real[0].traces.panels for mark in panel.excursions}
    assert shaded <= listed
