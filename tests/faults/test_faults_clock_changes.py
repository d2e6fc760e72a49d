"""The nights when the clocks are changed, in America/Chicago: no hour doubled or missing, on paper and on the screen.

In 2026 daylight-saving time there begins on 8 March at 02:00 CST (08:00 UTC) and ends on 1 November at 02:00 CDT (07:00 UTC): the
second Sunday of March and the first of November, 15 U.S. Code 260a.
"""

from __future__ import annotations

import json
from itertools import groupby
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from booth.reports.axes import time_ticks
from booth.reports.html import render_html
from booth.reports.judged import judge_vehicle
from booth.reports.record import build_record
from booth.reports.record_traces import build_traces
from booth.reports.timeline import timeline
from booth.store import Store
from booth.times import HOUR, MINUTE, clock, format_time, parse_time
from tests.app.plants import CONFIG, VAN, demo_shop, play, shift_of_one_van
from tests.cli.commands import booth
from tests.faults.plant import STORY_ENDS

CHICAGO = ZoneInfo("America/Chicago")
MIDDLE_OF_THE_COAT = parse_time("2026-07-13T11:18:00Z")  # it goes from 11:12:16 to 11:24:34
NIGHTS = {"spring": parse_time("2026-03-08T08:00:00Z"), "autumn": parse_time("2026-11-01T07:00:00Z"), "july": MIDDLE_OF_THE_COAT}


def told(by: int, store: Store) -> None:
    """The story, with every time of its messages later by this much."""
    messages = [one for one in shift_of_one_van() if one[0] <= STORY_ENDS]
    moved = [(tick + by, topic, body | {"time": format_time(parse_time(body["time"]) + by)}) for tick, topic, body in messages]
    play(store, [(now, [one[1:] for one in group]) for now, group in groupby(moved, key=lambda one: one[0])])


@pytest.fixture(scope="module")
def stores(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folders = {night: tmp_path_factory.mktemp(night) for night in NIGHTS}
    for night, change in NIGHTS.items():
        with Store.open(folders[night], writer=True) as store:
            told(change - MIDDLE_OF_THE_COAT, store)
    return folders


def record(stores: dict[str, Path], night: str) -> tuple[dict, str, str]:
    """The record, its timeline and its pages."""
    with Store.open(stores[night]) as store:
        judged = judge_vehicle(demo_shop(), store, VAN, NIGHTS[night] - MIDDLE_OF_THE_COAT + STORY_ENDS)
        document, traces = build_record(judged), build_traces(judged)
    return document, timeline(traces, CHICAGO, "t"), render_html(json.loads(json.dumps(document)), traces)


def numbers(document: dict) -> dict[str, tuple]:
    """What was found, without the moments."""
    found = [one for round_ in document["rounds"] for step in round_["steps"] for one in step["findings"]]
    return {
        one["requirement"]: tuple(one[key] for key in ("verdict", "observed", "margin", "coverage", "largest_gap_s"))
        for one in found
    }


@pytest.mark.parametrize(
    ("night", "coat"), [("spring", "01:54–03:06 · 12 min 18 s"), ("autumn", "01:54 CDT–01:06 CST · 12 min 18 s")]
)
def test_a_coat_over_the_change(night: str, coat: str, stores: dict[str, Path]) -> None:
    document, drawn, pages = record(stores, night)
    assert numbers(document) == numbers(record(stores, "july")[0]) != {}
    assert coat in drawn
    [step] = [step for step in document["rounds"][0]["steps"] if step["step"] == "sealer"]
    assert parse_time(step["end"]) - parse_time(step["start"]) == 12 * MINUTE + 18_000_000
    assert "12 min 18 s" in pages and "UTC−06:00" in pages and "UTC−05:00" in pages


def test_status_over_the_change(stores: dict[str, Path]) -> None:
    change = NIGHTS["autumn"]
    said = [
        booth("status", "--at", format_time(change + minutes * MINUTE), config=CONFIG, store=stores["autumn"])
        for minutes in (-1, 1, 59, 60)
    ]
    assert [one.code for one in said] == [0] * 4
    heads = [one.out.splitlines()[0] for one in said]
    assert [head.partition("2026-11-01 ")[2].rpartition(" America")[0] for head in heads] == [
        *("01:59:00 CDT", "01:01:00 CST", "01:59:00 CST", "02:00:00")
    ]


def test_every_moment_of_both_nights_has_a_name_of_its_own() -> None:
    for change in (NIGHTS["spring"], NIGHTS["autumn"]):
        names = [clock(change + minute * MINUTE, CHICAGO) for minute in range(-180, 180)]
        assert len(set(names)) == len(names)
    assert clock(NIGHTS["spring"] - MINUTE, CHICAGO) == "01:59" and clock(NIGHTS["spring"], CHICAGO) == "03:00"
    assert clock(NIGHTS["autumn"] - HOUR, CHICAGO) == "01:00 CDT" and clock(NIGHTS["autumn"], CHICAGO) == "01:00 CST"
    assert clock(NIGHTS["autumn"], CHICAGO, seconds=True) == "01:00:00 CST"


@pytest.mark.parametrize(
    ("night", "words"),
    [("spring", ["01:00", "03:00", "04:00"]), ("autumn", ["01:00 CDT", "01:00 CST", "02:00"])],
)
def test_an_axis_over_the_change(night: str, words: list[str]) -> None:
    change = NIGHTS[night]
    ticks = [told for _, told in time_ticks(change - 2 * HOUR + MINUTE, change + HOUR + MINUTE, CHICAGO, most=4)]
    assert ticks == words
