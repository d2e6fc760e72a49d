"""Made-up instruments for the health tests: what they read, by seconds from an invented start."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from booth.judge.health.spans import Interval, Span
from booth.times import SECOND, parse_time

START = parse_time("2026-07-13T11:00:00Z")


def at(second: float) -> int:
    return START + round(second * SECOND)


def times(*seconds: float) -> np.ndarray:
    return np.array([at(one) for one in seconds], np.int64)


def every(step: float, start: float, end: float) -> np.ndarray:
    return times(*np.arange(start, end, step))


def told(spans: Iterable[Span | Interval]) -> list[tuple]:
    """(start, end, certain) in seconds."""
    return [tuple(None if us is None else (us - START) / SECOND for us in (one.start, one.end, one.certain)) for one in spans]


def noisy(count: int, seed: int = 1, level: float = 23.0, sigma: float = 0.05, digits: int = 1) -> np.ndarray:
    """A steady quantity as a healthy instrument sends it."""
    return np.round(level + np.random.default_rng(seed).normal(0, sigma, count), digits)
