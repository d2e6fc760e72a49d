"""What the charts draw: readings as lines, and the steps, limits, windows and excursions to draw around them.

Plain arrays and microseconds; nothing here knows a screen, a colour or a time zone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np


@dataclass(frozen=True)
class Line:
    """One quantity: `times` int64 microseconds ascending, `values` float64; NaN or a silence over `max_age_us` breaks it."""

    label: str
    times: np.ndarray
    values: np.ndarray
    max_age_us: int


@dataclass(frozen=True)
class Band:
    """A step: `kind` is the step's kind (coat, flash, bake, …)."""

    label: str
    kind: str
    start: int
    end: int


@dataclass(frozen=True)
class LimitSpan:
    """A limit in force over [start, end), in the panel's unit."""

    start: int
    end: int
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Mark:
    """A window or an excursion; `end` None: still open. `verdict` is met, missed or unproven."""

    start: int
    end: int | None
    label: str
    verdict: str


@dataclass(frozen=True)
class Panel:
    """The lines that share one vertical axis; `unit` as people write it: °C, %, m/s."""

    title: str
    unit: str
    lines: tuple[Line, ...]
    limits: tuple[LimitSpan, ...] = ()
    excursions: tuple[Mark, ...] = ()


@dataclass(frozen=True)
class Traces:
    """Everything that the charts of one record show, over [start, end)."""

    start: int
    end: int
    bands: tuple[Band, ...] = ()
    panels: tuple[Panel, ...] = ()
    windows: tuple[Mark, ...] = ()

    def between(self, start: int, end: int) -> Traces:
        """The same over a shorter stretch: one round of several, or the bake alone."""

        def overlaps(item: Band | LimitSpan | Mark) -> bool:
            return item.start < end and (item.end is None or item.end > start)

        panels = tuple(
            replace(
                panel,
                lines=tuple(_cut(line, start, end) for line in panel.lines),
                limits=tuple(limit for limit in panel.limits if overlaps(limit)),
                excursions=tuple(mark for mark in panel.excursions if overlaps(mark)),
            )
            for panel in self.panels
        )
        bands = tuple(band for band in self.bands if overlaps(band))
        return Traces(start, end, bands, panels, tuple(window for window in self.windows if overlaps(window)))


def _cut(line: Line, start: int, end: int) -> Line:
    inside = (line.times >= start) & (line.times <= end)
    return replace(line, times=line.times[inside], values=line.values[inside])


def segments(line: Line) -> list[tuple[np.ndarray, np.ndarray]]:
    """The stretches of a line that may be drawn through: (times, values) between one gap and the next."""
    known = ~np.isnan(line.values)
    times, values = line.times[known], line.values[known]
    if not len(times):
        return []
    missing_before = np.concatenate(([0], np.cumsum(~known)))[:-1][known]  # NaN readings seen before each known one
    breaks = (np.diff(times) > line.max_age_us) | (np.diff(missing_before) > 0)
    cuts = np.flatnonzero(breaks) + 1
    return list(zip(np.split(times, cuts), np.split(values, cuts), strict=True))


def decimate(times: np.ndarray, values: np.ndarray, start: int, end: int, columns: int) -> np.ndarray:
    """Indices of the readings to draw: the lowest and the highest of each of `columns` pixel columns, and the two ends.

    An excursion of one reading is still seen, however long the step: what is left out lies between two points that are drawn.
    """
    if len(times) <= 2:
        return np.arange(len(times))
    column = (times - start) * columns // max(end - start, 1)
    order = np.lexsort((values, column))  # by column, then by value: each column's first is its lowest, its last the highest
    turns = np.flatnonzero(np.diff(column[order]))
    lowest, highest = order[np.append(0, turns + 1)], order[np.append(turns, len(order) - 1)]
    return np.unique(np.concatenate((lowest, highest, [0, len(times) - 1])))
