"""Stale: a point that should speak and doesn't."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from booth.judge.health.spans import Span


def stale(times: np.ndarray, after_us: int, as_of: int) -> Iterator[Span]:
    """From `after_us` past a reading until the next one. `times`: int64, ascending, none later than `as_of`."""
    spoken = np.append(times, as_of)
    for index in np.flatnonzero(np.diff(spoken) > after_us).tolist():
        start = int(spoken[index]) + after_us
        yield Span(start, None if index == len(times) - 1 else int(spoken[index + 1]), start)
