"""A point that should speak and doesn't: an alarm about an instrument, while there is still time to mend it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from booth.alarms.condition import Audience, Condition
from booth.judge.health.faults import STALE
from booth.times import SECOND

LOOK_BACK_US = 600 * SECOND
"""How long a silence that has ended stays listed: longer than any off-delay."""

WHAT_TO_DO = "Look after this instrument: what isn't measured can't be proven."


def silences(
    times: npt.NDArray[np.int64], pause_us: int, start: int, end: int | None, as_of: int
) -> Iterator[tuple[int, int | None]]:
    """When in [start, end) the point had been silent for longer than `pause_us`; the end is None while it is.

    `times`: when it spoke, in order, none later than `as_of`, with the last before the stretch if there is one.
    """
    spoken = np.concatenate((times if len(times) else [start], [as_of]))
    for index in np.flatnonzero(np.diff(spoken) > pause_us).tolist():
        since, until = int(spoken[index]) + pause_us, int(spoken[index + 1])
        goes_on = index == len(spoken) - 2 and (end is None or as_of < end)
        since, until = max(since, start), until if end is None else min(until, end)
        if since < until:
            yield since, None if goes_on else until


def silent(booth: str, point: str, since: int, until: int | None, audience: Audience) -> Condition:
    """The condition; its id is the point's, whichever van it was needed for."""
    return Condition(
        id=f"{booth}/{point}/{STALE}",
        booth=booth,
        requirement=STALE,
        priority="warning",
        sentence=f"{point} has sent no usable reading",
        since=since,
        until=until,
        what_to_do=WHAT_TO_DO,
        audience=audience,
    )
