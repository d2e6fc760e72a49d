"""Stuck: the very same value for longer than this instrument, with its noise and its last digit, ever gives it.

A value is the same when it is equal to the last digit as sent: an instrument with any noise at all never sends one value
for long, and a band would call a steady booth a broken probe.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from booth.judge.health.spans import Span


def stuck(
    times: np.ndarray, values: np.ndarray, after_us: int, silence_us: int, as_of: int, counts: np.ndarray | None = None
) -> Iterator[Span]:
    """From the first reading of a value until the first of another, where the value was sent for `after_us` or more.

    Nobody knows what a point would have said while it was silent: once it says nothing for `silence_us`, the run is over.
    `counts` masks the readings that tell (those taken in a mode in which the value can't stand still); others end a run too.
    """
    if not len(times):
        return
    told = np.ones(len(times), bool) if counts is None else counts
    new = np.append(True, (values[1:] != values[:-1]) | (told[1:] != told[:-1]) | (np.diff(times) > silence_us))
    firsts = np.flatnonzero(new)
    for number, first in enumerate(firsts.tolist()):
        past = int(firsts[number + 1]) if number + 1 < len(firsts) else None
        start, last = int(times[first]), int(times[len(times) - 1 if past is None else past - 1])
        if told[first] and last - start >= after_us:
            following = as_of + 1 if past is None else int(times[past])
            end = min(following, last + silence_us)
            yield Span(start, None if end > as_of else end, start + after_us)
