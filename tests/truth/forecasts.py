"""What the logger foretold, beside what came: clocks that will be done, and measures on their way out of their limits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from booth.alarms.heading import EVERY_US
from booth.judge.trend import Heading
from booth.looker import Looker
from booth.times import SECOND
from simulators.plain.evaluate import measures
from simulators.plain.moments import crossing, done_moments
from simulators.plain.truth import PlainShift, Truth
from tests.truth.alarms import Raised
from tests.truth.play import LOOK_EVERY_US

CROSSING = "crossing"
CLOCK = "clock"
UNSURE = "unsure"
"""Kinds of what was foretold, besides those of requirements that go by a temperature: a measure on its way out, a clock of fixed
time, and what was foretold without saying how sure that is."""

LINE_S = 300
AHEAD_S = 300
HORIZON_S = 600
LONGEST_S = 1800  # a warning from longer ago was about something else

WARNED_BY_CLOCK = ("bake_start", "flash_maximum", "pot_life", "heat_up")
HEADED = ("air_temperature", "relative_humidity", "dew_point_margin")

Key = tuple[str, str, int, int]


@dataclass(frozen=True)
class Foretold:
    """`ahead_s`: how far ahead it was expected; `error_s`: by how much later than that it came, infinite where it never did.

    Stated with about 95 %: between `sooner_s` before and `later_s` after the expected moment; the latter is infinite where it may
    never come.
    """

    requirement: str
    kind: str
    ahead_s: float
    error_s: float
    sooner_s: float
    later_s: float

    @property
    def inside(self) -> bool:
        return -self.sooner_s <= self.error_s <= self.later_s


@dataclass(frozen=True)
class Lead:
    """How long before a true miss the warning came; None: none did. `foreseeable`: five minutes before it could be told."""

    requirement: str
    lead_s: float | None
    foreseeable: bool

    @property
    def by_clock(self) -> bool:
        return self.requirement.partition("/")[2] in WARNED_BY_CLOCK


@dataclass
class Seer:
    """Collects, look by look, what was foretold: of each window once in a quarter of an hour, of headings all."""

    windows: list[tuple[int, str, int, int | None, int | None]] = field(default_factory=list)
    headings: dict[Key, Heading | None] = field(default_factory=dict)

    def look(self, now: int, looker: Looker) -> None:
        self.headings |= looker.headings
        if now % LOOK_EVERY_US:
            return  # somebody looks because of a miss; the same forecast again would count twice
        for seen in looker.seen.values():
            one, window = seen.finding, seen.finding.window
            if one.final or window is None:
                continue
            both = window.earliest is not None and window.latest is not None
            for moment, name in ((window.earliest, one.requirement), (window.latest, one.requirement + "/latest" * both)):
                if moment is not None and moment > now:
                    self.windows.append((now, name, moment, window.sooner_us, window.later_us))

    def foretold(self, shift: PlainShift) -> Iterator[Foretold]:
        midnight = shift.scenario.midnight
        came = done_moments(shift)
        for now, requirement, moment, sooner_us, later_us in self.windows:
            if requirement not in came:
                continue
            true, expected, ahead = came[requirement], (moment - midnight) / SECOND, (moment - now) / SECOND
            if sooner_us is None:
                yield Foretold(requirement, UNSURE, ahead, 0.0, np.inf, np.inf)
                continue
            later_s = np.inf if later_us is None else later_us / SECOND
            if true.moment is None and expected + later_s >= true.seen_to:
                continue  # it may have come when nobody could see it any more
            kind = requirement.split("/")[1] if true.by_temperature else CLOCK
            error = np.inf if true.moment is None else true.moment - expected
            yield Foretold(requirement, kind, ahead, error, sooner_us / SECOND, later_s)
        yield from self._crossings(shift)

    def _crossings(self, shift: PlainShift) -> Iterator[Foretold]:
        """One for each warning: what it says is what was found in the second half minute in a row."""
        for (_, requirement, _, moment), heading in _announced(self.headings):
            step, _, measure = requirement.partition("/")
            at = (moment - shift.scenario.midnight) / SECOND
            when = crossing(shift, step, measure, heading.limit, heading.slope < 0, at)
            if when is None and at + heading.soonest > shift.span(step)[1]:
                continue  # nobody can tell: the coat was over before
            error = (np.inf if when is None else when - at) - heading.seconds
            yield Foretold(requirement, CROSSING, heading.seconds, error, heading.seconds - heading.soonest, np.inf)


def _announced(headings: Mapping[Key, Heading | None]) -> Iterator[tuple[Key, Heading]]:
    by_run: dict[tuple[str, str, int], list[int]] = defaultdict(list)
    for vehicle, requirement, start, moment in headings:
        by_run[vehicle, requirement, start].append(moment)
    for run, moments in by_run.items():
        streak = 0
        for moment in sorted(moments):
            found = headings[*run, moment]
            follows = headings.get((*run, moment - EVERY_US)) is not None
            streak = 0 if found is None else streak + 1 if follows else 1
            if streak == 2:
                yield (*run, moment), found


def leads(shift: PlainShift, truth: Mapping[str, Truth], raised: tuple[Raised, ...]) -> Iterator[Lead]:
    """Of each true miss that something could have warned of: since when the last warning before it was written down."""
    for requirement, true in truth.items():
        step, _, kind = requirement.partition("/")
        moment = true.moment(0.0)
        if moment is None or kind not in (*WARNED_BY_CLOCK, *HEADED):
            continue
        told = [one.told_s for one in raised if one.requirement == requirement and one.priority == "warning"]
        warned = [one for one in told if moment - LONGEST_S <= one <= moment]
        yield Lead(requirement, moment - max(warned) if warned else None, _foreseeable(shift, step, kind, moment))


def _foreseeable(shift: PlainShift, step: str, measure: str, missed: float) -> bool:
    """Whether a straight line through the truth's own five minutes, five minutes before it crossed, met the limit within the
    horizon: then it could be seen coming by a perfect instrument."""
    if measure == "bake_start":
        return missed < shift.visit.bake  # else it was begun too early
    if measure in WARNED_BY_CLOCK:
        return True
    coat = next(one for one in shift.visit.coats if one.step == step)
    sheet = shift.coatings[coat.coating]
    limit = sheet["climate"][measure]
    grace = 60
    crossed = int(missed) - grace - 1
    begin = crossed - AHEAD_S - LINE_S
    if begin < shift.span(step)[0]:
        return False
    values, _ = measures(shift, sheet, begin, crossed - AHEAD_S)[measure]
    slope, value = np.polyfit(np.arange(len(values)) - len(values), values, 1)
    ends = [float(str(limit[name]).split()[0]) for name in ("minimum", "maximum") if name in limit]
    return any(0 < (end - value) / slope <= HORIZON_S for end in ends if slope)
