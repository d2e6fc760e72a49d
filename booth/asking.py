"""Spraying that nobody claims: with more than one van in a booth the guns never decide whose coat it was, so it is asked.

Claimed is what belongs to a coat that somebody entered of a van that stood there, in whichever round, and also when its job is
closed by now. The answer is a `step-start` for the van that it was, or `not-a-coat`; then there is nothing to ask any more.

Only the stays of the vans that it is about are looked at, with whoever stood beside them: what is long past costs nothing.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from booth.alarms.condition import Condition
from booth.judge.coats import coat_of, entered_coats, explains
from booth.judge.facts import Fact, Job, Run
from booth.judge.gather import Readings
from booth.judge.infer import Stretch
from booth.judge.ledger import Ledger
from booth.live_jobs import Open
from booth.shop.room import Booth
from booth.shop.shop import Shop
from booth.spells import spells
from booth.stays import EVER, Stay, stays, stays_of_all_rounds
from booth.times import clock, format_time

WHAT_TO_DO = "Enter the start and the end of this coat for the van that it was, or that it was no coat."

Stood = tuple[Open, Stay]
"""Where a van stood, and its job as it was in that round."""

Who = tuple[str, int]
"""A van, and which of its rounds."""


@dataclass(frozen=True)
class Unclaimed:
    """A spell of spraying with more than one van in the booth. `coats`: van -> the coat that it would be, where one is left."""

    booth: str
    start: int
    end: int | None
    coats: dict[str, str | None]


class Asker:
    """Asks the newest readings what was sprayed and nobody claims.

    `shop_of`: the configuration that a job was opened under, None where it can't be judged.
    """

    def __init__(
        self, shop: Shop, ledger: Ledger, readings: Readings, shop_of: Callable[[Job], Shop | None] | None = None
    ) -> None:
        self._shop, self._ledger, self._readings = shop, ledger, readings
        self._shop_of = shop_of or (lambda job: shop if job.process in shop.processes else None)

    def questions(self, jobs: Iterable[Open], as_of: int) -> Iterator[Condition]:
        """One for each spell, to the painter."""
        zone = self._shop.site.zone
        for one in self.unclaimed(jobs, as_of):
            booth = self._shop.booths[one.booth]
            end = "now" if one.end is None else clock(one.end, zone)
            vans = ", ".join(one.coats)
            yield Condition(
                id=f"{one.booth}/whose_coat/{format_time(one.start)}",
                booth=one.booth,
                requirement="whose_coat",
                priority="warning",
                sentence=f"{booth.name}: sprayed from {clock(one.start, zone)} to {end} with {vans} in it; nobody said which van",
                since=one.start + booth.inference.shortest_coat,
                what_to_do=WHAT_TO_DO,
            )

    def unclaimed(self, jobs: Iterable[Open], as_of: int) -> list[Unclaimed]:
        """What was sprayed among several vans of which one at least is still worked on."""
        return self._unclaimed([one for one in jobs if one.job.round.closed is None], as_of)

    def doubtful_since(self, jobs: Collection[Open], as_of: int) -> dict[str, int]:
        """Since when it isn't known which coats a van has had in its latest round, by vehicle. Closing a job answers nothing."""
        found: dict[str, int] = {}
        rounds = {one.job.vehicle: one.job.round for one in jobs}
        for one in self._unclaimed(jobs, as_of):
            for vehicle in one.coats.keys() & rounds.keys():
                if rounds[vehicle].number == 1 or one.start >= rounds[vehicle].opened:
                    found[vehicle] = min(one.start, found.get(vehicle, one.start))
        return found

    def _unclaimed(self, jobs: Collection[Open], as_of: int) -> list[Unclaimed]:
        """What was sprayed while one of these vans at least stood there in its latest round."""
        known, about = {one.job.vehicle: one for one in jobs}, {_who(one) for one in jobs}
        found: list[Unclaimed] = []
        for booth_id, booth in self._shop.booths.items():
            if booth.inference is None or booth.hazard is None:
                continue
            doubtful: set[Who] = set()
            for here in _apart(self._beside(booth_id, jobs, known, as_of)):
                bursts = self._unexplained(booth_id, booth, here, as_of)
                found += self._asked(booth_id, here, bursts, about, doubtful)
        return found

    def _beside(self, booth: str, jobs: Iterable[Open], known: Mapping[str, Open], as_of: int) -> list[Stood]:
        """The stays of these vans in a booth that they shared, and those of whoever stood there meanwhile."""
        found: dict[tuple[Who, int], Stood] = {}
        for one in jobs:
            own = [stay for stay in stays(one.job) if stay.booth == booth and stay.start < as_of]
            if all(stay.is_alone_throughout for stay in own):
                continue
            for stay in own:
                stood = (each for name in self._loaded(booth, stay) for each in self._stood(booth, name, known))
                found |= {(_who(other), then.start): (other, then) for other, then in stood if then.overlaps(stay)}
        return list(found.values())

    def _loaded(self, booth: str, stay: Stay) -> Iterable[str]:
        """The vans that the loads in force during a stay name. Years of other loads are not gone through."""
        loads = self._ledger.loads_of(booth)
        first = max(bisect_right(loads, stay.start, key=_time) - 1, 0)
        past = bisect_left(loads, stay.reach, key=_time)
        return dict.fromkeys(van["vehicle"] for load in loads[first:past] for van in load.body["vans"])

    def _stood(self, booth: str, vehicle: str, known: Mapping[str, Open]) -> Iterator[Stood]:
        one = known.get(vehicle)
        job = self._ledger.job(vehicle) if one is None else one.job
        shop = one.shop if one is not None else self._shop_of(job) if job is not None else None
        if shop is not None:
            yield from ((Open(then, shop), stay) for then, stay in stays_of_all_rounds(job) if stay.booth == booth)

    def _unexplained(self, booth_id: str, booth: Booth, here: Sequence[Stood], as_of: int) -> list[Stretch]:
        """Spells of spraying that no entered coat claims of those who stood there."""
        entered = [(one, list(_entered(booth_id, one))) for one in {_who(one): one for one, _ in here}.values()]
        ends = [run.end for _, runs in entered for run in runs if run.end is not None]
        ends += [us for _, stay in here for us in (*stay.changes, stay.start, stay.end) if us is not None]
        reach = max(stay.reach for _, stay in here)
        end = None if reach == EVER else reach
        span = (min(stay.start for _, stay in here), end)
        bursts = list(spells(booth_id, booth, span, end, self._ledger, self._readings, as_of, ends))
        claimed = {burst for one, runs in entered for burst in _claimed(one, runs, bursts, here)}
        return [burst for burst in bursts if burst not in claimed]

    def _asked(
        self, booth: str, here: Sequence[Stood], bursts: Iterable[Stretch], about: Collection[Who], doubtful: set[Who]
    ) -> Iterator[Unclaimed]:
        """Also of a van that was alone by then, but may have had any of what was asked before: it is `doubtful`."""
        for burst in bursts:
            there = {_who(one): (one, stay) for one, stay in here if stay.covers(burst.start)}
            written = {vehicle: self._ledger.written_coats(vehicle) for vehicle, _ in there}
            shared = any(stay.alone_at(burst.start) is None for _, stay in there.values())
            told = any(burst.start in known for known in written.values())
            if told or not (shared or doubtful & there.keys()) or not about & there.keys():
                continue
            doubtful.update(there)
            coats = {one.job.vehicle: _coat(one, burst, written[one.job.vehicle]) for one, _ in there.values()}
            yield Unclaimed(booth, burst.start, burst.end, coats)


def _who(one: Open) -> Who:
    return one.job.vehicle, one.job.round.number


def _time(fact: Fact) -> int:
    return fact.time


def _apart(stood: Iterable[Stood]) -> list[list[Stood]]:
    """Stays that overlap together, by time. What only follows on the other is none of its business."""
    apart: list[list[Stood]] = []
    reach = 0
    for one, stay in sorted(stood, key=lambda each: each[1].start):
        if not apart or stay.start >= reach:
            apart.append([])
        apart[-1].append((one, stay))
        reach = max(reach, stay.reach)
    return apart


def _entered(booth: str, one: Open) -> Iterator[Run]:
    """The coats that somebody entered and that were sprayed in this booth."""
    coats = entered_coats(one.job, one.shop.processes[one.job.process])
    return (run for run in coats if run.booth in (None, booth))


def _claimed(one: Open, runs: Sequence[Run], bursts: Sequence[Stretch], here: Sequence[Stood]) -> Iterator[Stretch]:
    """Spells that belong to a coat that somebody entered. One whose end nobody entered has the spell that its start lies in, or
    the next one after it before its round was closed, and no other."""
    for burst in bursts:
        run = explains(runs, burst)
        if run is not None and run.end is not None:
            yield burst
    closed, own = one.job.round.closed, {stay.start for other, stay in here if _who(other) == _who(one)}
    elsewhere = [stay for stay in stays(one.job) if stay.start not in own]
    for run in runs:
        if run.end is None and not any(stay.covers(run.start) for stay in elsewhere):
            later = [burst for burst in bursts if (burst.end or burst.so_far) > run.start]
            yield from (burst for burst in later[:1] if closed is None or burst.start < closed)


def _coat(one: Open, burst: Stretch, written: Mapping[int, str | None]) -> str | None:
    """The coat that it would be of a van; none of a round that was closed by then."""
    closed = EVER if one.job.round.closed is None else one.job.round.closed
    if burst.start > closed:
        return None
    then = {start: step for start, step in written.items() if start <= closed}
    return coat_of(one.job, one.shop.processes[one.job.process], burst, then)
