"""What the instruments tell of every booth: steps that nobody entered, and spraying without air.

What lies behind the allowed lateness is settled and goes into the journal; what is younger is told to the judge all the
same, so that a bake that has just begun is not taken for one that is late.
"""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from booth.alarms.condition import Condition
from booth.asking import Asker
from booth.heat_told import heat_told
from booth.judge.coats import told_by_guns
from booth.judge.facts import Job
from booth.judge.gather import Readings
from booth.judge.hazard import without_air
from booth.judge.health.overlay import believable
from booth.judge.infer import SIGNALLED, Stretch, Told, mode_stretches, told_by_mode
from booth.judge.ledger import Ledger
from booth.live_jobs import Open
from booth.reports.judged import NoSuchVehicle, shop_of
from booth.shop.problems import ConfigError
from booth.shop.room import Booth
from booth.shop.shop import Shop
from booth.spells import spells
from booth.stays import Stay, stays
from booth.store import Draft, Store
from booth.times import MINUTE

log = logging.getLogger(__name__)

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

    def __init__(
        self, shop: Shop, ledger: Ledger, readings: Readings, shop_of: Callable[[Job], Shop | None] | None = None
    ) -> None:
        self._shop, self._ledger, self._readings = shop, ledger, readings
        self._asker = Asker(shop, ledger, readings, shop_of)
        self._lateness = shop.site.judging.allowed_lateness
        self._faults: set[str] = set()  # vans of which nothing can be told, by a fault of ours

    def all(self, jobs: Iterable[Open], as_of: int) -> dict[str, list[ToldEntry]]:
        """Everything told up to now of these vans that isn't in the journal, by vehicle. Who else stood beside them is known."""
        found: dict[str, list[ToldEntry]] = defaultdict(list)
        live = [one for one in jobs if not _is_long_closed(one, as_of)]
        doubtful = self._asker.doubtful_since(live, as_of)
        for one in live:
            for told in self._told_of(one, as_of, doubtful.get(one.job.vehicle)):
                found[told.vehicle] += [entry for entry in _entries(told) if not self._ledger.knows(entry.id)]
        return found

    def _told_of(self, one: Open, as_of: int, doubtful: int | None) -> list[Told]:
        """A fault in telling of one van must not silence the other vans, nor the alarms."""
        try:
            told = list(_told(one, self._ledger, self._readings, as_of, doubtful))
        except Exception:
            if one.job.vehicle not in self._faults:  # said once, and not twice a second
                log.exception("what the instruments tell of %s could not be worked out", one.job.vehicle)
            self._faults.add(one.job.vehicle)
            return []
        self._faults.discard(one.job.vehicle)
        return told

    def settled(self, jobs: Iterable[Open], told: dict[str, list[ToldEntry]], as_of: int) -> list[Draft]:
        """Entries behind the allowed lateness that the journal doesn't have yet; `told` is what `all` says.

        What is told of an earlier moment is told of a later one too, so usually there is nothing to ask.
        """
        watermark = as_of - self._lateness
        due = {vehicle for vehicle, entries in told.items() if any(entry.effective <= watermark for entry in entries)}
        earlier = self.all([one for one in jobs if one.job.vehicle in due], watermark) if due else {}
        return [
            Draft(entry.kind, entry.body, entry.effective, as_of, entry.channel, entry.id)
            for entries in earlier.values()
            for entry in entries
            if entry.effective <= watermark
        ]

    def air_hazards(self, as_of: int) -> Iterator[Condition]:
        """Spray with too little air, or with air that nobody measures: a hazard at once, whatever any sheet says."""
        for booth_id, booth in self._shop.booths.items():
            if booth.hazard is None:
                continue
            low = booth.hazard.minimum_velocity
            for stretch in self._spraying_without_air(booth_id, booth, as_of):
                yield Condition(
                    id=f"{booth_id}/airflow",
                    booth=booth_id,
                    requirement="airflow",
                    priority="hazard",
                    sentence=f"{booth.name}: a gun is on and the recorded air velocity is not at least {low:.2f} m/s",
                    since=stretch.start,
                    until=None if stretch.end >= as_of else stretch.end,
                    what_to_do=booth.hazard.what_to_do,
                    immediate=True,
                )

    def _spraying_without_air(self, booth_id: str, booth: Booth, as_of: int) -> Iterable[Stretch]:
        start, end = as_of - HAZARD_LOOK_BACK_US, as_of + 1
        guns, air = (
            [self._readings.evidence(f"{booth_id}/{name}", start, end, booth.points[name].max_age) for name in names]
            for names in (booth.measuring("gun_flow"), booth.measuring("air_velocity")[:1])
        )
        above = booth.hazard.spraying_flow
        if not air or not any((gun.values > above).any() for gun in guns):
            return ()
        # A probe that can't be believed measures no air. (One whose calibration failed still tells whether the fan runs.)
        faults = self._ledger.health_since(f"{booth_id}/{booth.measuring('air_velocity')[0]}", start - HAZARD_LOOK_BACK_US)
        velocity = believable(air[0], (one for one in faults if not one.withdrawn))
        return without_air(guns, velocity, above, booth.hazard.minimum_velocity, start, end)


def tell_past(shop: Shop, store: Store, until: int, now: int) -> None:
    """Journal the steps that readings up to `until` tell of, where they came out of files and no logger was looking."""
    ledger = Ledger(store.journal.entries())
    jobs = {one.job.vehicle: one for one in _readable(shop, store, ledger)}
    teller = Teller(shop, ledger, store.readings, lambda job: jobs[job.vehicle].shop if job.vehicle in jobs else None)
    drafts: list[Draft] = []
    for one in jobs.values():
        closed = one.job.round.closed
        as_of = min(until + shop.site.judging.allowed_lateness, now if closed is None else closed + AFTER_CLOSING_US)
        drafts += teller.settled([one], teller.all([one], as_of), as_of)
    # All at once: what is told of one van changes nothing about another, but each entry would have every job folded anew.
    store.journal.append([replace(draft, recorded=now) for draft in drafts])


def _readable(shop: Shop, store: Store, ledger: Ledger) -> Iterator[Open]:
    """The jobs that can be judged; of the others the record says why they can't."""
    for vehicle in ledger.vehicles:
        job = ledger.job(vehicle)
        try:
            yield Open(job, shop_of(store, job, shop))
        except (NoSuchVehicle, ConfigError):
            continue


def _is_long_closed(one: Open, as_of: int) -> bool:
    closed = one.job.round.closed
    return closed is not None and as_of - closed > AFTER_CLOSING_US


def _told(one: Open, ledger: Ledger, readings: Readings, until: int, doubtful: int | None) -> Iterator[Told]:
    closed = one.job.round.closed
    for stay in stays(one.job):
        booth = one.shop.booths.get(stay.booth)
        if booth is not None and booth.mode_point is not None and stay.start < until:
            for told in _told_in(one, stay, booth, ledger, readings, until, doubtful):
                if closed is None or told.start < closed:
                    yield told


def _told_in(
    one: Open, stay: Stay, booth: Booth, ledger: Ledger, readings: Readings, until: int, doubtful: int | None
) -> Iterator[Told]:
    """`doubtful`: since when it isn't known which coats it has had."""
    process = one.shop.processes[one.job.process]
    left = stay.end if stay.end is not None and stay.end <= until else None
    stretches = _stretches(stay, booth, readings, until if left is None else left)
    for told in told_by_mode(one.job, process, stay.booth, stretches, stay.start):
        yield _ended(told, left)
    baked = list(heat_told(one, stay, booth, stretches, ledger, readings, until if left is None else left))
    for told in baked:
        yield _ended(told, left)
    if booth.inference is None or booth.hazard is None:
        return
    span = (stay.start, stay.end)
    every = spells(stay.booth, booth, span, stay.end, ledger, readings, until, stay.changes)
    # With two vans in the booth spraying never decides which of them: that is asked (booth.asking).
    bursts, among_others = [], []
    for burst in every:
        (among_others if stay.alone_at(burst.start) is None else bursts).append(burst)
    written = ledger.written_coats(one.job.vehicle)
    for told in told_by_guns(
        one.job, process, stay.booth, bursts, _moved_on(stretches, baked, left), written, doubtful, among_others
    ):
        yield _ended(told, left)


def _stretches(stay: Stay, booth: Booth, readings: Readings, until: int) -> dict[str, list[Stretch]]:
    """Stretches of the modes that tell of a step. An oven is hot before a van comes: its bake begins with the van."""
    point = booth.points[booth.mode_point]
    mode = readings.evidence(f"{stay.booth}/{booth.mode_point}", stay.start, until + 1, point.max_age)
    words = point.words or ()
    found = {word: mode_stretches(mode, words.index(word), until) for word in SIGNALLED if word in words}
    if booth.kind == "oven":
        found = {word: [replace(one, start=max(one.start, stay.start)) for one in known] for word, known in found.items()}
    return found


def _moved_on(stretches: dict[str, list[Stretch]], baked: Iterable[Told], left: int | None) -> int | None:
    """The latest moment at which the work is known to have left spraying behind."""
    starts = [one.start for found in (*stretches.values(), baked) for one in found]
    return max([*starts, *([left] if left is not None else [])], default=None)


def _ended(told: Told, left: int | None) -> Told:
    """A step that still went on when the van left ended then."""
    if left is None or told.end is not None:
        return told
    return replace(told, end=max(left, told.start))


def _entries(told: Told) -> Iterator[ToldEntry]:
    body = {"vehicle": told.vehicle, "step": told.step, "booth": told.booth}
    body |= {"told_from": told.told_from} if told.told_from else {}
    yield ToldEntry(told.entry_id("step-start"), "step-start", told.start, told.channel, body)
    if told.end is not None:
        yield ToldEntry(told.entry_id("step-end"), "step-end", told.end, told.channel, body)
