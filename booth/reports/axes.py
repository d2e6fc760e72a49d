"""Scales and ticks: where a value or a moment stands on the paper, and which round ones are written beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo

from booth.times import HOUR, MINUTE, SECOND, clock, to_datetime

_TIME_STEPS = (
    *(seconds * SECOND for seconds in (1, 5, 15, 30)),
    *(minutes * MINUTE for minutes in (1, 2, 5, 10, 15, 30)),
    *(hours * HOUR for hours in (1, 2, 3, 6, 12, 24, 48, 168)),
)


@dataclass(frozen=True)
class Scale:
    """A straight line from [low, high] to [first, last] on the paper; what lies outside is held at the edge."""

    low: float
    high: float
    first: float
    last: float

    def __call__(self, value: float) -> float:
        share = (value - self.low) / ((self.high - self.low) or 1)
        return self.first + min(max(share, 0.0), 1.0) * (self.last - self.first)


def value_ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round values (1, 2 or 5 times a power of ten apart) within [low, high]."""
    rough = (high - low) / most or 1.0
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [count * step for count in range(first, math.floor(high / step + 1e-9) + 1)]


def number(value: float, step: float) -> str:
    """A tick's value with the decimals that its step needs."""
    digits = max(0, -math.floor(math.log10(step) + 1e-9)) if step else 0
    return f"{value:.{digits}f}".replace("-", "−") if round(value, digits) else f"{0:.{digits}f}"


def time_ticks(start: int, end: int, zone: tzinfo, most: int = 8) -> list[tuple[int, str]]:
    """(moment, words) at round local times; the date where the day turns."""
    span = max(end - start, 1)
    step = next((step for step in _TIME_STEPS if span / step <= most), span)
    offset = round((to_datetime(start, zone).utcoffset() or to_datetime(0) - to_datetime(0)).total_seconds()) * SECOND
    first = -(-(start + offset) // step) * step - offset
    ticks = []
    for moment in range(first, end + 1, step):
        local = to_datetime(moment, zone)
        midnight = local.hour == local.minute == local.second == 0
        ticks.append((moment, f"{local:%m-%d}" if midnight else clock(moment, zone, step < MINUTE)))
    return ticks


def lanes(spans: Sequence[tuple[float, float]], gap: float = 4.0) -> list[int]:
    """A lane for each span (left, right), in the order given, so that no two in one lane touch."""
    ends: list[float] = []
    chosen = []
    for left, right in spans:
        lane = next((index for index, end in enumerate(ends) if end + gap <= left), len(ends))
        ends[lane : lane + 1] = [right]
        chosen.append(lane)
    return chosen
