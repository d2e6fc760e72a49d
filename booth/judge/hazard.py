"""Spraying without enough air: when it was so, out of the guns and the air velocity alone, whatever any sheet says."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from booth.judge.series import Series
from booth.judge.track import Stretch, Track, align, hold, stretches


def without_air(guns: Sequence[Series], velocity: Series, above: float, minimum: float, start: int, end: int) -> list[Stretch]:
    """Stretches of [start, end) in which a gun was on (its flow `above`) and the air not known to be fast enough.

    Silence is on the side of the hazard both times: air that nobody measures is no air, and a gun that was last seen on is on.
    """
    if end <= start:
        return []
    flows = [hold(Series(gun.times, gun.values, end - start + gun.max_age_us), start, end) for gun in guns]
    edges, (air, *on) = align([hold(velocity, start, end), *(Track(one.edges, one.values > above) for one in flows)])
    spraying = np.logical_or.reduce([one.astype(bool) for one in on]) if on else np.zeros(len(air), bool)
    return list(stretches(edges, spraying & ~(air >= minimum)))
