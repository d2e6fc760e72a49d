"""How long the judge takes: gathering evidence and judging one requirement on a 60-minute step at one reading a second.

The dearest finding there is: a dew-point margin over three part probes, so six points, none of which is read at the same moments
as another. The readings are in memory, as they are for live judging; a read from the store is not in the figure.
"""

from __future__ import annotations

import statistics
import time

import numpy as np

from booth.judge.assess import cases, requirements
from booth.judge.finding import Verdict
from booth.judge.judge import judge
from booth.judge.series import Series
from booth.shop.promises import Promises
from booth.times import SECOND
from tests.judge.made_up import Van, at, good_van, shop

MINUTES = 60
RUNS = 15
POINTS = ("air-temperature", "humidity", "part-1", "part-2", "part-3", "mode")
GUARDED = ("site.toml", 'decision_rule = "simple"', 'decision_rule = "guarded"')


class Columns:
    """Readings kept as columns, as the live logger keeps them."""

    def __init__(self, points: dict[str, tuple[np.ndarray, np.ndarray]]) -> None:
        self._points = points

    def evidence(self, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        times, values = self._points[point]
        first, past = np.searchsorted(times, (start - max_age_us, end))
        return Series(times[first:past], values[first:past], max_age_us)


def finding_of_a_60_minute_step(together: bool = False, guarded: bool = False) -> float:
    """Seconds per finding, the median of 15. `together`: all points are read at the same moments."""
    van = good_van(shop(GUARDED) if guarded else shop())
    van.forget("step-end", step="sealer")
    van.forget("step-start", step="base-1")
    van.tell("step-end", MINUTES, step="sealer")
    chance = np.random.default_rng(5)
    columns = {}
    for index, name in enumerate(POINTS):
        phase = 0 if together else index * SECOND // len(POINTS)
        times = at(0) + phase + SECOND * np.arange(60 * MINUTES, dtype=np.int64)
        middle = {"humidity": 50.0, "mode": 1.0}.get(name, 23.0)
        noise = 0.0 if name == "mode" else chance.normal(0, 0.1, len(times))
        columns[f"north/{name}"] = (times, np.full(len(times), middle) + noise)
    van.readings = Columns(columns)
    return statistics.median(_times(van))


def _times(van: Van) -> list[float]:
    job, promises = van.job(), Promises(van.shop)
    ledger = van.gatherer(1000).ledger
    case = next(case for case in cases(job, van.shop.processes["standard"]) if case.step.step == "sealer")
    margin = next(one for one in requirements(case, promises) if one.kind == "dew_point_margin")
    took = []
    for _ in range(RUNS + 1):
        gatherer = type(van.gatherer(1000))(van.shop, ledger, van.readings, at(1000))
        begun = time.perf_counter()
        finding = judge(margin, gatherer.evidence(margin, case), at(1000))
        took.append(time.perf_counter() - begun)
        assert finding.verdict is Verdict.MET and finding.end - finding.start == at(MINUTES) - at(0)
    return took[1:]


if __name__ == "__main__":
    for together in (True, False):
        for guarded in (False, True):
            took = finding_of_a_60_minute_step(together, guarded)
            print(f"{'together' if together else 'apart':9}{'guarded' if guarded else 'simple':8}{1000 * took:.2f} ms")
