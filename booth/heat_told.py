"""A bake told by its heat: which readings of a booth and of a van's parts it goes by."""

from __future__ import annotations

from collections.abc import Iterator

from booth.judge.gather import Readings
from booth.judge.health.overlay import believable
from booth.judge.heat import Heated, heats, told_by_heat, warmest
from booth.judge.infer import Stretch, Told
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.judge.track import hold
from booth.live_jobs import Open
from booth.shop.room import Booth
from booth.stays import Stay


def heat_told(
    one: Open,
    stay: Stay,
    booth: Booth,
    stretches: dict[str, list[Stretch]],
    ledger: Ledger,
    readings: Readings,
    until: int,
) -> Iterator[Told]:
    """Bakes of a van in a booth of which the mode says nothing; `stretches` are those that it told of."""
    if booth.heat is None or until <= stay.start:
        return
    room = _Room(stay, booth, ledger, readings, until)
    found = [heat for heat in room.heats(one) if heat.start >= stay.start and room.air_moves(heat.passed)]
    if found:
        process = one.shop.processes[one.job.process]
        mode = room.series(booth.mode_point)
        yield from told_by_heat(one.job, process, stay.booth, found, mode, stretches.get("bake", []))


class _Room:
    """A booth during a van's stay."""

    def __init__(self, stay: Stay, booth: Booth, ledger: Ledger, readings: Readings, until: int) -> None:
        self._stay, self._booth, self._ledger, self._readings, self._until = stay, booth, ledger, readings, until

    def series(self, name: str) -> Series:
        """Without what it said while it had a fault."""
        full, start = f"{self._stay.booth}/{name}", self._stay.start
        known = self._readings.evidence(full, start, self._until + 1, self._booth.points[name].max_age)
        return believable(known, (fault for fault in self._ledger.health_since(full, start) if not fault.withdrawn))

    def heats(self, one: Open) -> list[Heated]:
        """By the air; where none is measured, or it was hot already when the van came, by the warmest part."""
        rule = self._booth.heat
        for name in self._booth.measuring("air_temperature")[:1]:
            air = self.series(name)
            if len(air) and air.values[0] <= rule.rises_above:
                return heats(air, rule.rises_above, rule.falls_below, self._until, rule.known_within)
        names = {
            probe for place in one.job.places if place.booth == self._stay.booth for probe in place.probes if self._has(probe)
        }
        parts = warmest([self.series(name) for name in sorted(names)], self._stay.start, self._until + 1)
        return heats(parts, rule.rises_above, rule.falls_below, self._until, rule.known_within)

    def air_moves(self, us: int) -> bool:
        least = self._booth.heat.air_moving
        if least is None:
            return True
        velocity = hold(self.series(self._booth.measuring("air_velocity")[0]), us, us + 1).values
        return bool((velocity >= least).any())

    def _has(self, probe: str) -> bool:
        return probe in self._booth.points
