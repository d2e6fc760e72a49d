"""Disagreement: two probes of the same air that differ by more than their uncertainties allow.

The criterion is the E_n number of ISO 13528 and ISO/IEC 17043: |a − b| / √(U_a² + U_b²) above 1, with expanded uncertainties
(k = 2). Which of the two is wrong it doesn't say, so neither is believed.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot

import numpy as np

from booth.judge.health.spans import Span
from booth.judge.series import Series
from booth.judge.track import align, hold, runs


def disagrees(one: Series, other: Series, uncertainties: tuple[float, float], after_us: int, as_of: int) -> Iterator[Span]:
    """Where they differ, both speaking, for `after_us` or longer; a silence of either ends it."""
    if not len(one) or not len(other):
        return
    start = int(min(one.times[0], other.times[0]))
    edges, (first, second) = align([hold(one, start, as_of), hold(other, start, as_of)])
    apart = np.abs(first - second) > hypot(*uncertainties)  # NaN, where one is silent, is not apart
    for begin, past in runs(apart):
        since, until = int(edges[begin]), int(edges[past])
        if until - since >= after_us:
            yield Span(since, None if until >= as_of else until, since + after_us)
