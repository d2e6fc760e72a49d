"""What is wrong, as the judge found it: the raw matter of an alarm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from booth.judge.finding import Window

Priority = Literal["warning", "alarm", "hazard"]
Audience = Literal["painter", "maintenance"]
RANK: dict[str, int] = {"warning": 0, "alarm": 1, "hazard": 2}


@dataclass(frozen=True)
class Condition:
    """One occurrence of one thing that is wrong; times in microseconds UTC, by the time of the readings and events themselves.

    `since` and `until` say when it became and ceased to be true; `until` is None while it is true. All delays are reckoned from
    these two, never from when somebody looked, so a restart neither loses nor restarts a timer. A silent sensor leaves `until`
    at None: silence never clears.

    `id` is stable over occurrences (condition_id). `vehicle`, `round` and `step` are None for an alarm about an
    instrument. `latched`: a missed requirement, which doesn't mend by itself: its alarm stays until it is settled.
    `immediate`: loss of airflow, hazard; no on-delay, not deferred while the gun is on, can't be shelved. Raises
    ValueError for a condition that contradicts itself.
    """

    id: str
    booth: str
    requirement: str
    priority: Priority
    sentence: str
    since: int
    until: int | None = None
    vehicle: str | None = None
    round: int | None = None
    step: str | None = None
    what_to_do: str = ""
    window: Window | None = None
    overrun_us: int | None = None
    audience: Audience = "painter"
    latched: bool = False
    immediate: bool = False

    def __post_init__(self) -> None:
        if not self.id:
            raise ValueError("a condition needs an id, for example TV-4103/1/bake/bake_start")
        if self.priority not in RANK:
            raise ValueError(f"{self.id}: priority {self.priority!r} is none of {', '.join(RANK)}")
        if self.audience not in ("painter", "maintenance"):
            raise ValueError(f"{self.id}: audience {self.audience!r} is neither painter nor maintenance")
        if self.until is not None and self.until <= self.since:
            raise ValueError(f"{self.id}: until {self.until} is not after since {self.since}")
        if self.priority == "hazard" and not self.immediate:
            raise ValueError(f"{self.id}: a hazard is immediate; write immediate=True")

    @property
    def rank(self) -> int:
        """The higher, the worse: a miss that can't be mended is worse than what may still pass, and what a painter needs now is
        worse than what maintenance will see to."""
        return 4 * RANK[self.priority] + 2 * self.latched + (self.audience == "painter")


def condition_id(vehicle: str, round: int, step: str, requirement: str) -> str:
    """The id of an alarm about a van: `TV-4103/1/bake/bake_start`."""
    return f"{vehicle}/{round}/{step}/{requirement}"
