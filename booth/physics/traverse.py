"""Where to hold a probe in a duct or over a filter face, and the mean of what it read.

Positions are distances from one wall as shares of the width or diameter. Sources: ISO 3966:2008 and ASHRAE Standard 111 for
log-Tchebycheff and log-linear (tables: they have no closed form), EPA Method 1 (40 CFR 60, appendix A-1) for equal area.
Some copies of the ISO tables carry misprints (0.32 for 0.032, 0.981 for 0.979 of eight points): these are the symmetric values.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

LOG_TCHEBYCHEFF = {
    5: (0.074, 0.288, 0.500, 0.712, 0.926),
    6: (0.061, 0.235, 0.437, 0.563, 0.765, 0.939),
    7: (0.053, 0.203, 0.366, 0.500, 0.634, 0.797, 0.947),
}
"""Number of lines -> positions on a side of a rectangle. Seven lines: from memory."""

LOG_LINEAR = {
    4: (0.043, 0.290, 0.710, 0.957),
    6: (0.032, 0.135, 0.321, 0.679, 0.865, 0.968),
    8: (0.021, 0.117, 0.184, 0.345, 0.655, 0.816, 0.883, 0.979),
    10: (0.019, 0.077, 0.153, 0.217, 0.361, 0.639, 0.783, 0.847, 0.923, 0.981),
}
"""Points on a diameter of a round duct -> positions. Four and eight points: from memory."""


def log_tchebycheff(lines: int) -> tuple[float, ...]:
    """Positions on one side of a rectangular duct. ValueError for a number of lines that the table doesn't have."""
    return _row(LOG_TCHEBYCHEFF, lines, "log-Tchebycheff", "lines on a side")


def log_linear(points: int) -> tuple[float, ...]:
    """Positions on a diameter of a round duct. ValueError for a number of points that the table doesn't have."""
    return _row(LOG_LINEAR, points, "log-linear", "points on a diameter")


def equal_area(points: int) -> tuple[float, ...]:
    """Centres of equal parts of a side: (2i - 1)/2n. For a filter face, where no wall slows the air."""
    _at_least_one(points)
    return tuple((2 * i - 1) / (2 * points) for i in range(1, points + 1))


def equal_area_round(points: int) -> tuple[float, ...]:
    """Positions on a diameter of a round duct, at the middles of rings of equal area: (1 ∓ √(1 - (2i - 1)/n))/2."""
    _at_least_one(points)
    if points % 2:
        raise ValueError(f"{points} points don't lie in pairs on a diameter: take an even number")
    near = [(1 - math.sqrt(1 - (2 * i - 1) / points)) / 2 for i in range(1, points // 2 + 1)]
    return (*near, *(1 - one for one in reversed(near)))


class Grid(NamedTuple):
    """Mean, lowest and highest of a grid, and the lowest and highest as shares of the mean: how even the air is."""

    mean: float
    lowest: float
    highest: float
    points: int

    @property
    def evenness(self) -> tuple[float, float]:
        return self.lowest / self.mean, self.highest / self.mean


def grid(velocities_m_s: Sequence[float | None] | Mapping[str, float | None]) -> Grid:
    """The mean of a grid whose points stand for equal areas, as those of all four rules above do.

    A point that is missing, not a number or negative stops it, with its name: left out, or taken as zero, it would make a mean
    of another grid than the one that was measured. Readings of velocity pressure are made velocities first, one by one: the
    mean of pressures is not the pressure of the mean.
    """
    named = velocities_m_s if isinstance(velocities_m_s, Mapping) else dict(enumerate(velocities_m_s, 1))
    if not named:
        raise ValueError("the grid has no points: enter the velocity at each of them")
    for name, value in named.items():
        if value is None or math.isnan(value):
            raise ValueError(f"point {name} of {len(named)} has no reading: measure it, or enter a smaller grid")
        if value < 0:
            raise ValueError(
                f"point {name} of {len(named)} reads {value:g}: air that runs backwards is no small velocity; "
                "check the probe and what stands in the way, then measure the grid again"
            )
        if math.isinf(value):
            raise ValueError(f"point {name} of {len(named)} is infinite: measure it again")
    values = list(named.values())
    return Grid(math.fsum(values) / len(values), min(values), max(values), len(values))


def _row(table: dict[int, tuple[float, ...]], number: int, rule: str, of: str) -> tuple[float, ...]:
    if number not in table:
        raise ValueError(f"the {rule} rule has no row for {number} {of}: take {', '.join(map(str, table))}")
    return table[number]


def _at_least_one(points: int) -> None:
    if points < 1:
        raise ValueError(f"a traverse needs points, not {points}")
