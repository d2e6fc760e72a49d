"""A point's usable readings in a stretch of time: the raw matter of evidence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Series:
    """Readings of one point: `times` int64 microseconds, ascending and unique; `values` float64 in the unit used inside.

    Only readings of good quality are in it: no conflicts, nothing quarantined. The last one before the stretch is in it too if
    it isn't older than `max_age_us`. A reading speaks for its point until the next one, or for `max_age_us`.
    """

    times: np.ndarray
    values: np.ndarray
    max_age_us: int

    def __post_init__(self) -> None:
        if len(self.times) != len(self.values):
            raise ValueError(f"{len(self.times)} times but {len(self.values)} values")

    def __len__(self) -> int:
        return len(self.times)

    def until(self, us: int) -> Series:
        """The readings taken at or before a moment."""
        end = int(np.searchsorted(self.times, us, side="right"))
        return Series(self.times[:end], self.values[:end], self.max_age_us)

    def held_to(self, us: int) -> Series:
        """With the last value once more at a later moment, if the last reading still speaks for its point then."""
        if not len(self) or not 0 < us - int(self.times[-1]) <= self.max_age_us:
            return self
        return Series(np.append(self.times, us), np.append(self.values, self.values[-1]), self.max_age_us)

    def shifted(self, by: float) -> Series:
        """The same readings, each that much higher."""
        return Series(self.times, self.values + by, self.max_age_us) if by else self
