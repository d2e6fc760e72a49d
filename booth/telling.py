"""What the instruments tell of every booth: steps that nobody entered, and spraying without air.

What lies behind the allowed lateness is settled and goes into the journal; what is younger is told to the judge all the
same, so that a bake that has just begun is not taken for one that is late.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from booth.alarms.condition import Condition
from booth.judge.facts import Job, Place
from booth.judge.infer import SIGNALLED, Stretch, Told, gun_bursts, mode_stretches, told_by_guns, told_by_mode
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.live_readings import LiveReadings
from booth.shop.room import Booth
from booth.shop.shop import Shop
from booth.store import Draft
from booth.times import MINUTE

AFTER_CLOSING_US = 10 * MINUTE  # a job may be closed before its last steps are settled
HAZARD_LOOK_BACK_US = 5 * MINUTE


@dataclass(frozen=True)
class ToldEntry:
    """What is told, in the form of a journal entry that isn't written yet."""

    id: str
    kind: str
    effective: int
    channel: str
    body: dict[str, Any]
    seq: int = 2**62
    private: dict[str, str | None] = field(default_factory=dict)


class Teller:
    """Asks the newest readings, over and over, what happened in each booth."""

    def __init__(self, shop: Shop, ledger: Ledger, readings: LiveReadings) -> None:
        self._shop, self._ledger, self._readings = shop, ledger, readings
        self._lateness = shop.site.judging.allowed_lateness

    def settled(self, as_of: int) -> list[Draft]:
        """Entries behind the allowed lateness that the journal doesn't have yet."""
        watermark = as_of - self._lateness
        drafts = []
        for told in self._told(watermark):
            for entry in _entries(told):
                if entry.effective <= watermark and not self._ledger.knows(entry.id):
                    drafts.append(Draft(entry.kind, entry.body, entry.effective, as_of, entry.channel, entry.id))
        return drafts

    def all(self, as_of: int) -> dict[str, list[ToldEntry]]:
        """Everything told up to now that isn't in the journal, by vehicle."""
        found: dict[str, list[ToldEntry]] = defaultdict(list)
        for told in self._told(as_of):
            found[told.vehicle] += [entry for entry in _entries(told) if not self._ledger.knows(entry.id)]
        return found

    def air_hazards(self, as_of: int) -> Iterator[Condition]:
        """Spray with too little air, or with air that nobody measures: a hazard at once, whatever any sheet says."""
        for booth_id, booth in self._shop.booths.items():
            if booth.hazard is None:
                continue
            since = self._spraying_without_air(booth_id, booth, as_of)
            if since is not None:
                low = booth.hazard.minimum_velocity
                yield Condition(
                    id=f"{booth_id}/airflow",
                    booth=booth_id,
                    requirement="airflow",
                    priority="hazard",
                    sentence=f"{booth.name}: a gun is on and the recorded air velocity is not at least {low:.2f} m/s",
                    since=since,
                    what_to_do=booth.hazard.what_to_do,
                    immediate=True,
                )

    def _spraying_without_air(self, booth_id: str, booth: Booth, as_of: int) -> int | None:
        """Since when a gun has been on without enough air, None if it isn't so now."""
        guns = [self._newest(booth_id, booth, name, as_of) for name in booth.measuring("gun_flow")]
        air = [self._newest(booth_id, booth, name, as_of) for name in booth.measuring("air_velocity")[:1]]
        spraying = [series for series in guns if len(series) and _on_now(series, booth.hazard.spraying_flow, as_of)]
        if not spraying or not air:
            return None
        velocity = air[0]
        if (
            len(velocity)
            and as_of - velocity.times[-1] < velocity.max_age_us
            and velocity.values[-1] >= booth.hazard.minimum_velocity
        ):
            return None
        gun_on = min(_since(series, booth.hazard.spraying_flow) for series in spraying)
        return max(gun_on, _low_since(velocity, booth.hazard.minimum_velocity, gun_on))

    def _newest(self, booth_id: str, booth: Booth, name: str, as_of: int) -> Series:
        point = booth.points[name]
        return self._readings.evidence(f"{booth_id}/{name}", as_of - HAZARD_LOOK_BACK_US, as_of + 1, point.max_age)

    def _told(self, until: int) -> Iterator[Told]:
        for vehicle in self._ledger.vehicles:
            job = self._ledger.job(vehicle)
            if job is None or job.process not in self._shop.processes:
                continue
            if job.round.closed is not None and until - job.round.closed > AFTER_CLOSING_US:
                continue
            for place in job.places:
                booth = self._shop.booths.get(place.booth)
                if booth is not None and booth.mode_point is not None and place.start < until and place.start >= job.round.opened:
                    yield from self._told_in(job, place, booth, until)

    def _told_in(self, job: Job, place: Place, booth: Booth, until: int) -> Iterator[Told]:
        process = self._shop.processes[job.process]
        end = until if place.end is None else min(until, place.end)
        mode_point = booth.points[booth.mode_point]
        mode = self._readings.evidence(f"{place.booth}/{booth.mode_point}", place.start, end + 1, mode_point.max_age)
        words = mode_point.words or ()
        stretches = {word: mode_stretches(mode, words.index(word), end) for word in SIGNALLED if word in words}
        cut = None if place.end is None or until < place.end else place.end
        for told in told_by_mode(job, process, place.booth, stretches, place.start):
            yield _ended(told, cut)
        if place.alone and booth.inference is not None and booth.hazard is not None:
            guns = [
                self._readings.evidence(f"{place.booth}/{name}", place.start, end + 1, booth.points[name].max_age)
                for name in booth.measuring("gun_flow")
            ]
            rule = booth.inference
            bursts = gun_bursts(guns, booth.hazard.spraying_flow, rule.shortest_coat, rule.longest_pause, end)
            for told in told_by_guns(job, process, place.booth, bursts, _moved_on(stretches)):
                yield _ended(told, cut)


def _moved_on(stretches: dict[str, list[Stretch]]) -> int | None:
    starts = [one.start for found in stretches.values() for one in found]
    return max(starts) if starts else None


def _ended(told: Told, cut: int | None) -> Told:
    """A step that still went on when the van left ended then."""
    if cut is None or told.end is not None:
        return told
    return Told(told.vehicle, told.step, told.booth, told.start, cut, told.channel)


def _entries(told: Told) -> Iterator[ToldEntry]:
    body = {"vehicle": told.vehicle, "step": told.step, "booth": told.booth}
    yield ToldEntry(told.entry_id("step-start"), "step-start", told.start, told.channel, body)
    if told.end is not None:
        yield ToldEntry(told.entry_id("step-end"), "step-end", told.end, told.channel, body)


def _on_now(series: Series, above: float, as_of: int) -> bool:
    return as_of - int(series.times[-1]) < series.max_age_us and float(series.values[-1]) > above


def _since(series: Series, above: float) -> int:
    """Since when a gun that is on has been on."""
    off = (series.values <= above).nonzero()[0]
    return int(series.times[off[-1] + 1]) if len(off) else int(series.times[0])


def _low_since(velocity: Series, minimum: float, default: int) -> int:
    """Since when the air has been too slow, or unknown."""
    good = (velocity.values >= minimum).nonzero()[0]
    if not len(good):
        return default
    last_good = int(velocity.times[good[-1]])
    following = int(velocity.times[good[-1] + 1]) if good[-1] + 1 < len(velocity) else last_good + velocity.max_age_us
    return min(following, last_good + velocity.max_age_us)
