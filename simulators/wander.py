"""Slow seeded fluctuation as a pure function of time: a few sines of unequal periods and seeded phases.

Real air never stands still, but white noise would put all the unrest into single samples. A sum of sines can be
asked for any second in any order, which keeps weather and rooms free of state.
"""

from __future__ import annotations

from math import pi, sin
from random import Random


class Wander:
    """`wander(second)` lies in -size..+size; `periods_s` are the lengths of its sines in seconds."""

    def __init__(self, rng: Random, size: float, periods_s: tuple[float, ...] = (2400.0, 870.0, 310.0)) -> None:
        share = size / len(periods_s)
        self._waves = [(share, 2 * pi / period, rng.uniform(0, 2 * pi)) for period in periods_s]

    def __call__(self, second: float) -> float:
        total = 0.0
        for size, pace, phase in self._waves:
            total += size * sin(pace * second + phase)
        return total
