"""A bake told by its heat, where the booth's mode is silent: when the air, or a part, went past a level and came down again.

Pure over event time. Between the two levels nothing changes (hysteresis), so that what sways about one of them is one heat.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import e

import numpy as np

from booth.judge.facts import Job
from booth.judge.infer import Stretch, Told, meant
from booth.judge.no_coats import BY_HEAT
from booth.judge.series import Series
from booth.judge.track import combine, hold
from booth.shop.process import Process
from booth.times import MINUTE

BEFORE_US = 20 * MINUTE  # how far back a climb is followed to where it began; common practice, no source
RESTED_US = (3 * MINUTE, MINUTE)  # what is read so long before the line's foot is what it climbed from


@dataclass(frozen=True)
class Heated:
    """From where the climb began to where the fall did, not from level to level: those are passed minutes later."""

    start: int
    passed: int
    end: int | None


def heats(temperature: Series, rises_above: float, falls_below: float, until: int, unseen_us: int) -> list[Heated]:
    """Every time that it rose past the one level, until it fell below the other.

    A rise of which readings are missing for longer than `unseen_us` began nobody knows when, as did one that was hot from the
    first; a fall of that kind ended when it was last seen hot.
    """
    known = temperature.until(until)
    found: list[Heated] = []
    going = False  # the last one found has no end yet
    hot = len(known) > 0 and known.values[0] > rises_above
    for index, (time, value) in enumerate(zip(known.times.tolist(), known.values.tolist(), strict=True)):
        if not hot and value > rises_above:
            hot, began = True, _began(known, index, rises_above, unseen_us)
            going = began is not None
            found += [Heated(began, time, None)] if going else []
        elif hot and value < falls_below:
            hot = False
            if going:
                fell = _began(Series(known.times, -known.values, known.max_age_us), index, -falls_below, unseen_us)
                last = int(known.times[index - 1]) if fell is None else fell
                found[-1], going = Heated(found[-1].start, found[-1].passed, max(last, found[-1].passed + 1)), False
    return found


def _began(known: Series, index: int, level: float, unseen_us: int) -> int | None:
    """Where a climb past a level began, no earlier than its lowest reading; None where it wasn't seen. (A fall is a climb upside
    down.)

    A line through the level and half of the climb meets the rest too late: burner, air and probe each lag. A body with one
    lag tau in air that warms evenly, T = r (t - tau (1 - exp(-t/tau))), is r tau/e above its rest where its asymptote meets
    it, at tau: what is read there tells the lag. Of several lags one after the other up to 0.4 of their sum stays untold.
    """
    first = int(np.searchsorted(known.times, known.times[index] - BEFORE_US))
    times, values = known.times[first : index + 1], known.values[first : index + 1]
    lowest = float(values.min())
    if lowest >= level:
        return None  # nothing else was read, or it stood right on the level
    foot, slope = _line_back(times, values, lowest, level)
    before = values[(times >= foot - RESTED_US[0]) & (times <= foot - RESTED_US[1])]
    rest = min(float(np.median(before)), (lowest + level) / 2) if len(before) else lowest
    foot, slope = _line_back(times, values, rest, level)
    climbing = times[max(0, int(np.searchsorted(times, foot)) - 1) :]
    if np.diff(climbing).max(initial=0) > unseen_us:
        return None
    above = max(0.0, float(np.interp(foot, times, values)) - rest)
    return int(max(foot - e * above / slope, times[int(values.argmin())]))


def _line_back(times: np.ndarray, values: np.ndarray, rest: float, level: float) -> tuple[float, float]:
    """Where a line through the level and half of the climb to it meets the rest, and its slope per microsecond."""
    half = (rest + level) / 2
    halfway = _crossing(times, values, int(np.flatnonzero(values <= half)[-1]), half)
    slope = (level - half) / max(1.0, _crossing(times, values, len(values) - 2, level) - halfway)
    return halfway - (half - rest) / slope, slope


def _crossing(times: np.ndarray, values: np.ndarray, index: int, level: float) -> float:
    """When the line from one reading to the next passes a level."""
    share = (level - values[index]) / (values[index + 1] - values[index])
    return float(times[index] + share * (times[index + 1] - times[index]))


def warmest(parts: Sequence[Series], start: int, end: int) -> Series:
    """The warmest of some parts, as long as any of them is known."""
    if not parts:
        return Series(np.empty(0, np.int64), np.empty(0), 0)
    track = combine(lambda *values: np.fmax.reduce(values), parts, start, end)
    known = ~np.isnan(track.values)
    return Series(track.edges[:-1][known], track.values[known], max(part.max_age_us for part in parts))


def is_known(series: Series, us: int) -> bool:
    """Whether a reading speaks for this moment."""
    return not np.isnan(hold(series, us, us + 1).values).all()


def told_by_heat(
    job: Job, process: Process, booth: str, found: Iterable[Heated], mode: Series, bakes: Sequence[Stretch]
) -> list[Told]:
    """Bakes of a van: heats that began when the mode said nothing, and that no bake of the mode's own covers."""
    told = []
    for heat in found:
        covered = any(one.start < (heat.end or heat.passed) and (one.end is None or one.end > heat.start) for one in bakes)
        step = None if covered or is_known(mode, heat.passed) else meant(process, "bake", job, heat.start)
        if step is not None:
            told.append(Told(job.vehicle, step, booth, heat.start, heat.end, "inferred", BY_HEAT))
    return told
