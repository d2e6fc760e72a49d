"""When a gun is open during a coat: strokes of half a minute, short lifts, a longer pause between zones."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from simulators.scenario import Coat, Visit, Zone


@dataclass(frozen=True)
class Stroke:
    """One opening of a gun on one zone, in whole seconds after midnight, end exclusive.

    `share` is the part of the zone's whole coat that a second of it lays down. A blow-off has no zone and no coating.
    """

    gun: str
    start: int
    end: int
    zone: str = ""
    coating: str = ""
    share: float = 0.0


def strokes(seed: int, visit: Visit, coat: Coat) -> list[Stroke]:
    """A coat's strokes in order of time; the first begins at coat.start, the last ends `minutes` later."""
    rng = Random(f"{seed}/{visit.vehicle}/{coat.step}")
    zones = visit.body.zones
    if coat.helper is None:
        return _one_gun(rng, "gun-1", zones, coat)
    both = _one_gun(rng, "gun-1", zones[0::2], coat) + _one_gun(rng, "gun-2", zones[1::2], coat)
    return sorted(both, key=lambda stroke: (stroke.start, stroke.gun))


def _one_gun(rng: Random, gun: str, zones: tuple[Zone, ...], coat: Coat) -> list[Stroke]:
    total = sum(zone.work for zone in zones)
    draft: list[tuple[str, float, float]] = []
    now = 0.0
    for zone in zones:
        now += rng.uniform(40, 75) if draft else 0.0  # walk round, untangle the hose, look
        done = now + (coat.minutes * 60 - 57 * (len(zones) - 1)) * zone.work / total
        while now < done - 8:
            on = rng.uniform(20, 45)
            draft.append((zone.name, now, now + on))
            now += on + rng.uniform(3, 10)
        now = draft[-1][2]
    stretch = coat.minutes * 60 / now  # so that a coat takes just as long as the script says
    timed = [(zone, coat.start + round(on * stretch), coat.start + round(off * stretch)) for zone, on, off in draft]
    open_s = {zone.name: sum(off - on for name, on, off in timed if name == zone.name) for zone in zones}
    return [Stroke(gun, on, off, zone, coat.coating, 1.0 / open_s[zone]) for zone, on, off in timed]
