"""Out of its operating range: a humidity probe in air that is too hot for it, and while it recovers from that."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from booth.judge.health.bursts import bursts
from booth.judge.health.spans import Span
from booth.judge.series import Series


def out_of_operating_range(air: Series, operating_to_c: float, recovery_us: int, as_of: int) -> Iterator[Span]:
    """From the first reading of air that is too hot until the probe has recovered from the last."""
    hot = air.times[air.values > operating_to_c]
    yield from bursts(hot, max(recovery_us, air.max_age_us), as_of)


def within_operating_range(humidity: Series, air: Series, operating_to_c: float, recovery_us: int) -> Series:
    """Humidity without the readings taken while the air was too hot for the probe, or in its recovery time afterwards."""
    hot = air.times[air.values > operating_to_c]
    if not len(hot) or not len(humidity):
        return humidity
    index = np.searchsorted(hot, humidity.times, side="right") - 1
    since = humidity.times - hot[np.maximum(index, 0)]
    usable = (index < 0) | (since > recovery_us)
    return Series(humidity.times[usable], humidity.values[usable], humidity.max_age_us)
