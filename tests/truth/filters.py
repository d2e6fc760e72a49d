"""Filters that load up over weeks in the simulated make-up air unit, and when the ventilation log says that they are full."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import numpy as np

from booth.physics.loading import FEWEST, change_out
from booth.reports.ventilation_filters import no_date
from simulators.makeup_air import INTAKE_CLEAN, MakeUpAir
from tests.truth.forecasts import Foretold

FILTER = "filter change-out"
CHANGE_OUT_PA = 180.0
EVERY = 5  # points between two forecasts
DAY_S = 86_400.0
GAUGE_PA = 1.0  # scatter of a day's mean


def foretold_filters(seed: int) -> Iterator[Foretold]:
    """Every fifth working day's forecast of one filter's life, beside the day on which it was truly full."""
    days, drops, shown = _life(seed)
    full = int(np.argmax(drops >= CHANGE_OUT_PA))
    if full < FEWEST:
        return
    came = float(np.interp(CHANGE_OUT_PA, drops[full - 1 : full + 1], days[full - 1 : full + 1]))
    for seen in range(FEWEST, full, EVERY):
        line = change_out(days[:seen], shown[:seen], CHANGE_OUT_PA)
        if line is not None and no_date(line, days[:seen], CHANGE_OUT_PA) is None:
            latest = np.inf if line.latest is None else line.latest
            sooner, later = line.expected - line.earliest, latest - line.expected
            spans = (line.expected - days[seen - 1], came - line.expected, sooner, later)
            yield Foretold(FILTER, FILTER, *(float(one * DAY_S) for one in spans))


def _life(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Working days until it is overdue, the true drop while spraying on each, and the drop shown.

    Dusty and clean days, longer and shorter shifts; how much dust a site has is drawn so that a filter lasts weeks or months.
    """
    dice = Random(f"filter {seed}")
    unit, dust = MakeUpAir(dust_load_per_m3=0.0), dice.uniform(0.015e-6, 0.08e-6)
    gauge_off = dice.uniform(-0.5, 0.5)
    days, drops, shown = [], [], []
    for day in range(1, 400):
        if day % 7 in (6, 0):
            continue
        sprayed_s = dice.uniform(3, 7) * 3600
        unit.intake_load += dust * dice.lognormvariate(0, 0.35) * unit.steady_flow(1.0) * sprayed_s
        unit.exhaust_load += 1.2e-7 * dice.uniform(0.5, 1.5) * sprayed_s
        drop = INTAKE_CLEAN * (1 + unit.intake_load) * unit.steady_flow(1.0)
        days.append(float(day))
        drops.append(drop)
        shown.append(drop + gauge_off + dice.gauss(0, GAUGE_PA))
        if drop > 1.1 * CHANGE_OUT_PA:
            break
    return np.array(days), np.array(drops), np.array(shown)
