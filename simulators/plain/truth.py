"""What the truth about a limit is made of: one van's shift with its sheets, how far it was kept, and when it was missed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from simulators.plain.sheets import number, seconds, sheets
from simulators.plain.signals import Signals
from simulators.scenario import Scenario
from simulators.spraying import Stroke, strokes

KELVIN = 273.15

Moment = Callable[[float], float | None]
"""When a limit had been missed by more than so much, in seconds after midnight; None: it never was."""


@dataclass(frozen=True)
class Truth:
    """By how much a limit was kept, in `unit`; negative: missed. `moment` says when it was missed, by more than so much."""

    margin: float
    unit: str
    moment: Moment = field(default=lambda _by: None, compare=False, repr=False)

    @property
    def met(self) -> bool:
        return self.margin >= 0


class PlainShift:
    """One van's shift, its sheets, and what was truly so."""

    def __init__(self, seed: int, scenario: Scenario, signals: Signals, files: Mapping[str, str]) -> None:
        (self.visit,) = scenario.visits
        self.scenario, self.signals = scenario, signals
        self.coatings, self.booth = sheets(files, "coatings"), sheets(files, "booths")[self.visit.booth]
        self.process = sheets(files, "processes")[self.visit.body.process]
        self.probed = sorted(set(self.visit.body.probes.values()))
        self.strokes: dict[str, list[Stroke]] = {coat.step: strokes(seed, self.visit, coat) for coat in self.visit.coats}

    def span(self, step: str) -> tuple[int, int]:
        """From the first trigger of a coat to the last."""
        return min(one.start for one in self.strokes[step]), max(one.end for one in self.strokes[step])

    def coldest(self, start: int, end: int) -> np.ndarray:
        return np.min([self.signals.skin(zone, start, end) for zone in self.probed], axis=0)

    def hottest(self, start: int, end: int, substrate: str) -> np.ndarray:
        kinds = {zone.name: zone.substrate for zone in self.visit.body.zones}
        return np.max([self.signals.skin(zone, start, end) for zone in self.probed if kinds[zone] == substrate], axis=0)


def time_at(table: list[list[str]], temperature_c: np.ndarray, longest: bool) -> np.ndarray:
    """Seconds that the sheet gives at a temperature: ln(time) in a straight line over 1/T between its points.

    Above the last point the last one's. Below the first: for a minimum nothing is earned (infinity), for a maximum (`longest`)
    the first one's; a maximum above the last point goes on along the last line.
    """
    points = [(1.0 / (number(at) + KELVIN), np.log(seconds(time))) for at, time in table]
    inverse = 1.0 / (temperature_c + KELVIN)
    xs, ys = [x for x, _ in reversed(points)], [y for _, y in reversed(points)]
    logs = np.interp(inverse, xs, ys)
    if longest:
        slope = (ys[1] - ys[0]) / (xs[1] - xs[0])
        return np.exp(np.where(inverse < xs[0], ys[0] + slope * (inverse - xs[0]), logs))
    return np.where(inverse > xs[-1], np.inf, np.exp(logs))


def passed(done: np.ndarray, limit: float, start: int) -> Moment:
    """When a sum, second by second from `start` on, was above a limit by so much."""

    def moment(by: float) -> float | None:
        above = np.flatnonzero(done > limit + by)
        return float(start + above[0]) if len(above) else None

    return moment


def clock(latest: float, end: float) -> Moment:
    """When a clock that ran until `end` was over its latest second by so much."""
    return lambda by: latest + by if end > latest + by else None


def at(kept: float, second: float) -> Moment:
    """For what is missed by beginning, or ending, too early: at that second."""
    return lambda by: float(second) if kept < -by else None
