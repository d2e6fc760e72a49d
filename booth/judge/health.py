"""What the judge lays over readings before it uses them: an instrument outside its operating range tells nothing."""

from __future__ import annotations

import numpy as np

from booth.judge.series import Series


def within_operating_range(humidity: Series, air: Series, operating_to_c: float, recovery_us: int) -> Series:
    """Humidity without the readings taken while the air was too hot for the probe, or in its recovery time afterwards."""
    hot = air.times[air.values > operating_to_c]
    if not len(hot) or not len(humidity):
        return humidity
    index = np.searchsorted(hot, humidity.times, side="right") - 1
    since = humidity.times - hot[np.maximum(index, 0)]
    usable = (index < 0) | (since > recovery_us)
    return Series(humidity.times[usable], humidity.values[usable], humidity.max_age_us)
