"""Conditions beside a clock: when were all the climate limits of a coating kept, broken, or not to be told?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from booth.judge.clockwork import Spell, spells_of
from booth.judge.evidence import Evidence
from booth.judge.measured import Measured, measure
from booth.judge.track import Track, align
from booth.shop.requirement import ClimateLimit


def conditions_over(limits: Sequence[ClimateLimit], evidence: Evidence, start: int, end: int, guarded: bool) -> list[Spell]:
    """[start, end) cut into spells "in" all limits, "out" of one at least, or "unknown"."""
    if end <= start:
        return []
    tracks = [_state(limit, measure(limit, evidence, start, end), guarded) for limit in limits]
    if not tracks:
        return [Spell(start, end, "in")]
    edges, states = align(tracks)
    worst = np.maximum.reduce(states)
    return spells_of(edges, worst == 2, worst == 1)


def _state(limit: ClimateLimit, measured: Measured, guarded: bool) -> Track:
    """2 where certainly out of this limit, 1 where possibly, 0 where in it."""
    out, maybe = measured.beyond(limit, guarded)
    return Track(measured.edges, np.where(out, 2.0, np.where(maybe, 1.0, 0.0)))
