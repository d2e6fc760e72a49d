"""What is looked for at one point, and how soon it is told: fixed beforehand, out of the configuration."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from booth.judge.health.faults import (
    CLOCK_OFF,
    DISAGREES,
    JUMPING,
    OUT_OF_OPERATING_RANGE,
    OUT_OF_RANGE,
    STALE,
    STUCK,
)
from booth.shop.shop import Shop
from booth.times import MINUTE, SECOND

SHORTEST_PAUSE_US = 30 * SECOND
LOOKED_EVERY_US = 10 * SECOND
"""How often somebody looks (booth.diagnosing): what is proven is told this much later at most."""


@dataclass(frozen=True)
class Terms:
    """Times in microseconds, quantities in the unit used inside; what is None is not looked for."""

    point: str  # "south/humidity"
    max_age_us: int
    stale_us: int
    settle_us: int
    stuck_us: int | None = None
    stuck_modes: tuple[str, ...] | None = None
    jump: float | None = None
    partner: str | None = None
    uncertainties: tuple[float, float] = (0.0, 0.0)
    disagree_us: int = MINUTE
    air: str | None = None  # the point whose temperature decides whether this one is in its operating range
    operating_to_c: float = 0.0
    recovery_us: int = 0
    clock_tolerance_us: int = 30 * SECOND
    clock_us: int = 5 * MINUTE

    @property
    def reach_us(self) -> int:
        """How far back before a moment the readings decide what is found after it."""
        after = [self.stuck_us or 0, self.disagree_us if self.partner else 0, self.recovery_us if self.air else 0]
        return max(*after, self.settle_us) + 2 * max(self.settle_us, self.max_age_us)

    def told_within(self) -> Iterator[tuple[str, int]]:
        """(fault, how soon after its beginning it is told at most); the site's allowed lateness comes on top."""
        for fault, proven_us in self._proven_within():
            yield fault, proven_us + LOOKED_EVERY_US

    def _proven_within(self) -> Iterator[tuple[str, int]]:
        yield STALE, self.stale_us
        if self.stuck_us is not None:
            yield STUCK, self.stuck_us
        if self.jump is not None:
            yield JUMPING, 0
        yield OUT_OF_RANGE, 0
        if self.partner is not None:
            yield DISAGREES, self.disagree_us
        yield CLOCK_OFF, self.clock_us + MINUTE  # by full minutes
        if self.air is not None:
            yield OUT_OF_OPERATING_RANGE, 0


def terms_of(shop: Shop, booth_id: str, name: str) -> Terms:
    booth = shop.booths[booth_id]
    point, site = booth.points[name], shop.site.health
    health = point.health
    pause = longest_pause(point.max_age)
    air = booth.measuring("air_temperature")[:1] if point.operating_to is not None else []
    partner = booth.points[health.partner] if health.partner else None
    return Terms(
        f"{booth_id}/{name}",
        point.max_age,
        health.stale_after or pause,
        health.settle or pause,
        health.stuck_after,
        health.stuck_modes,
        point.jump(),
        f"{booth_id}/{health.partner}" if partner else None,
        (point.uncertainty() or 0.0, partner.uncertainty() or 0.0) if partner else (0.0, 0.0),
        health.disagree_after,
        f"{booth_id}/{air[0]}" if air else None,
        point.operating_to or 0.0,
        point.recovery,
        site.clock_tolerance,
        site.clock_after,
    )


def longest_pause(max_age_us: int) -> int:
    """A pause between two readings that is no silence yet."""
    return max(2 * max_age_us, SHORTEST_PAUSE_US)
