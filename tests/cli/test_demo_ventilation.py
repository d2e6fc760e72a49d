"""The ventilation log of the simulated shift against the simulator's hidden truth, within the instruments' stated uncertainty.

The truth file shares no code with the log: it has what the air really did at every tick, before any instrument saw it.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from booth.times import parse_time
from simulators.tern_valley import TERN_VALLEY
from tests.cli.conftest import Demo

pytestmark = pytest.mark.xdist_group("demo")

BOOTHS = ("north", "south")
VOLUME_M3 = 190.0
MODE_TOLERANCE_S = 15.0
"""A mode is seen at the next tick, five seconds later at most, at each of a handful of turns."""

UNCERTAINTY = {"velocity": 0.03, "flow": 1.0, "pressure": 1.0}
"""Expanded, k = 2, as the booths' files state it; for the mean of thousands of readings the bias is what is left of it."""

TRUE = {"velocity": "velocity_m_s", "flow": "fresh_flow_m3_s", "pressure": "pressure_pa"}


def log(demo: Demo, booth: str) -> dict:
    said = demo.booth("ventilation", booth, "--from", "2026-07-13", "--to", "2026-07-13", "--json")
    assert said.code == 0, said.err
    return json.loads(said.out)


class Booth:
    """What was true in a booth, tick by tick."""

    def __init__(self, truth: dict, booth: str) -> None:
        self.start, self.period_s = parse_time(truth["start"]), truth["period_s"]
        series = truth["series"][booth]
        self.mode = np.array(series["mode"])
        self.of = {name: np.array(series[key], float) for name, key in TRUE.items()}
        self.drop = np.array(series["filter_drop_pa"], float)

    def seconds(self, mode: str) -> float:
        return float((self.mode == mode).sum() * self.period_s)

    def within(self, first: str, last: str) -> slice:
        begin, end = ((parse_time(text) - self.start) / 1e6 / self.period_s for text in (first, last))
        return slice(round(begin), round(end))


@pytest.fixture(scope="module", params=BOOTHS)
def both(request: pytest.FixtureRequest, demo: Demo) -> tuple[dict, Booth]:
    return log(demo, request.param), Booth(demo.truth(), request.param)


@pytest.mark.parametrize("mode", ["spray", "flash", "purge", "bake", "cool"])
def test_times_of_use_are_the_true_ones(both: tuple[dict, Booth], mode: str) -> None:
    made, true = both
    recorded = sum(row["modes_s"][mode] for row in made["periods"])
    turns = int(np.count_nonzero(np.diff((true.mode == mode).astype(int)))) + 1
    assert recorded == pytest.approx(true.seconds(mode), abs=MODE_TOLERANCE_S * turns)
    assert true.seconds("spray") > 3600, "a shift without spraying would prove nothing"


@pytest.mark.parametrize("measure", UNCERTAINTY)
def test_means_while_spraying_are_the_true_ones(both: tuple[dict, Booth], measure: str) -> None:
    made, true = both
    rows = [row[measure] for row in made["periods"] if row[measure]["known_s"]]
    recorded = np.average([row["mean"] for row in rows], weights=[row["known_s"] for row in rows])
    assert recorded == pytest.approx(true.of[measure][true.mode == "spray"].mean(), abs=UNCERTAINTY[measure])


def test_the_filter_drop_is_the_true_one(both: tuple[dict, Booth]) -> None:
    made, true = both
    rows = [row["filters"]["exhaust"] for row in made["periods"] if row["filters"]["exhaust"]["known_s"]]
    recorded = np.average([row["mean"] for row in rows], weights=[row["known_s"] for row in rows])
    assert recorded == pytest.approx(true.drop[true.mode == "spray"].mean(), abs=3)


def test_time_below_the_minimum_is_the_true_one(both: tuple[dict, Booth]) -> None:
    """But for the readings within the instrument's uncertainty of the limit, which may fall on either side."""
    made, true = both
    sprayed = true.of["velocity"][true.mode == "spray"]
    recorded = sum(row["velocity"]["beyond_s"] or 0 for row in made["periods"])
    turns = 2 * int(np.count_nonzero(np.diff((true.mode == "spray").astype(int)) > 0)) + 1
    surely, maybe = ((sprayed < 0.40 + u).sum() * true.period_s for u in (-0.03, 0.03))
    assert surely - turns * true.period_s <= recorded <= maybe + turns * true.period_s


def test_volumes_before_each_bake_are_the_true_ones(both: tuple[dict, Booth]) -> None:
    made, true = both
    assert made["bakes"]
    for bake in made["bakes"]:
        really = true.of["flow"][true.within(bake["purge_from"], bake["purge_to"])].sum() * true.period_s / VOLUME_M3
        slack = 2 * true.period_s * 25 / VOLUME_M3  # a tick at either end
        assert bake["volumes"] == pytest.approx(really, abs=bake["volumes_uncertainty"] + slack)


def test_the_summary_and_the_documents_come_by_the_command(demo: Demo, tmp_path) -> None:
    said = demo.booth("ventilation", "north", "--from", "2026-07-13", "--to", "2026-07-13")
    assert said.code == 0 and "in mode spray for" in said.out and "not a gas detector" in " ".join(said.out.split())
    for form, begins in (("pdf", b"%PDF-"), ("html", b"<!DOCTYPE html>"), ("csv", b"booth,day,shift"), ("json", b"{")):
        out = tmp_path / f"log.{form}"
        said = demo.booth("ventilation", "north", "--from", "2026-07-13", "--to", "2026-07-13", "--format", form, "--out", out)
        assert said.code == 0 and out.read_bytes().startswith(begins)


def test_litres_are_those_of_the_script_and_the_one_that_nobody_entered_is_missing(demo: Demo) -> None:
    made = json.loads(demo.booth("materials", "--from", "2026-07-13", "--to", "2026-07-13", "--json").out)
    (july,) = made["months"]
    assert july["known"]["litres"] == pytest.approx(sum(mix.litres or 0 for mix in TERN_VALLEY.mixes))
    assert july["litres"] is None and "the volume of M-111" in july["missing"] and "hap of waterborne-base" in july["missing"]
    assert {"north", "south"} <= {row["booth"] for row in made["products"]}, "a mix counts where it was sprayed"


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("mask-room", "--from", "2026-07-13"), "is not a booth that tells its mode; write one of north, south"),
        (("north", "--from", "13 July"), "write for example 2026-03-02T08:14:05.250Z"),
        (("north", "--from", "2026-02-30"), "is not a day"),
        (("north", "--from", "2026-07-13", "--to", "2026-07-01"), "--from must be before --to"),
    ],
)
def test_a_wrong_period_is_told(demo: Demo, args: tuple[str, ...], says: str) -> None:
    said = demo.booth("ventilation", *args)
    assert said.code == 2 and says in " ".join(said.err.split())
