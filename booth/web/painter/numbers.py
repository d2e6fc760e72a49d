"""What the air of a booth is now, against the limits that hold now: four numbers, and two words that rest on them.

The word is about this moment; whether a whole step met its limits is the judge's finding. What isn't measured well enough is
never in limits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from booth.judge.evidence import Evidence
from booth.judge.measured import Measured, measure
from booth.judge.series import Series
from booth.judge.trend import Trend, fit
from booth.physics.decision import certainly_beyond
from booth.shop.measures import DERIVED_FROM
from booth.shop.requirement import ClimateLimit, ClimateTerms, FlashTerms, Requirement
from booth.times import MINUTE

FIGURES = ("air_temperature", "relative_humidity", "dew_point_margin", "air_velocity")
VENTILATION = ("air_velocity", "booth_pressure")
"""Measures that the booth's ventilation is told by, on a line of its own; all others are climate."""

TREND_US = 10 * MINUTE


@dataclass(frozen=True)
class Holding:
    """A limit that holds now, or will in the next step; with the modes of the booth that it is bound to."""

    limit: ClimateLimit
    modes: tuple[str, ...] | None


@dataclass(frozen=True)
class Figure:
    """One measure now. `value` is None where nobody knows; `untrusted` says why it isn't to be relied on, None where it is.

    `word`: in, out, unproven, or none where no limit holds; `trend`: rising, falling, level, None with too few readings.
    """

    measure: str
    value: float | None
    low: float | None
    high: float | None
    word: str
    trend: str | None
    untrusted: str | None


def holding(requirements: Iterable[Requirement]) -> list[Holding]:
    """The climate limits among some requirements: a coat's own, those that a flash-off's clock rests on, the booth's."""
    found: list[Holding] = []
    for one in requirements:
        if isinstance(one.terms, ClimateTerms):
            found.append(Holding(one.terms.limit, one.terms.modes))
        elif isinstance(one.terms, FlashTerms):
            found += [Holding(limit, None) for limit in one.terms.conditions]
    return found


def figure(measured: str, limits: Iterable[Holding], evidence: Evidence, doubts: Mapping[str, str], as_of: int) -> Figure:
    """One measure as of a moment. `doubts` says of a measure why its instrument isn't to be trusted."""
    own = [one for one in limits if one.limit.measure == measured]
    shape = own[0].limit if own else ClimateLimit(measured, None, None, surface_from_air=True)
    now = measure(shape, evidence, as_of - TREND_US, as_of + 1)
    value = _last(now)
    words = [_word(one, evidence, as_of) for one in own]
    doubt = next((doubts[name] for name in (measured, *DERIVED_FROM[measured]) if name in doubts), None)
    if doubt is not None:
        words = ["unproven" if word == "in" else word for word in words]
    applying = [one.limit for one, word in zip(own, words, strict=True) if word != "none"] or [one.limit for one in own]
    return Figure(
        measured,
        value,
        max((one.low for one in applying if one.low is not None), default=None),
        min((one.high for one in applying if one.high is not None), default=None),
        worst(words),
        _direction(now, as_of),
        doubt or ("silent" if value is None and now.missing is None else None),
    )


def worst(words: Iterable[str]) -> str:
    """Out over not proven over in; none where no limit holds."""
    known = set(words)
    return next((word for word in ("out", "unproven", "in") if word in known), "none")


def _word(one: Holding, evidence: Evidence, as_of: int) -> str:
    """Whether a limit is kept at this moment."""
    now = measure(one.limit, evidence, as_of - TREND_US, as_of + 1, one.modes)
    if not len(now.known) or not now.applicable[-1] and now.missing is None:
        return "none" if len(now.known) else "unproven"
    beyond = bool(now.beyond(one.limit, guarded=False)[0][-1])
    return "out" if beyond else "in" if now.known[-1] else "unproven"


def _last(now: Measured) -> float | None:
    """The value at the moment itself; of several probes the coldest."""
    if not len(now.low) or not now.known[-1] or not np.isfinite(now.low[-1]):
        return None
    return float(now.low[-1])


def _direction(now: Measured, as_of: int) -> str | None:
    """A trend that stands out of the scatter, by the same test as the warning that comes before a limit is crossed."""
    if now.missing is not None or not len(now.low):
        return None
    trend: Trend | None = fit(now.edges[:-1], np.where(now.known, now.low, np.nan), as_of)
    if trend is None:
        return None
    return "level" if not trend.clear else "rising" if trend.slope > 0 else "falling"


def is_on(guns: Iterable[Series], above: float, as_of: int) -> bool:
    """Whether a gun is on. One that nobody hears any more counts as off: else an alarm could never be acknowledged."""
    for gun in guns:
        known = gun.until(as_of)
        if len(known) and as_of - int(known.times[-1]) <= gun.max_age_us and certainly_beyond(known.values[-1], None, above, 0.0):
            return True
    return False
