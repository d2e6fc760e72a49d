"""Spraying that nobody claims: with more than one van in a booth the guns never decide whose coat it was, so it is asked.

Claimed is what belongs to a coat that somebody entered of a van that stood there. The answer is a `step-start` for the van that
it was, or `not-a-coat`; then there is nothing to ask any more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from booth.alarms.condition import Condition
from booth.judge.coats import coat_of, entered_coats, explains
from booth.judge.facts import Run
from booth.judge.gather import Readings
from booth.judge.infer import Stretch
from booth.judge.ledger import Ledger
from booth.live_jobs import Open
from booth.shop.shop import Shop
from booth.spells import spells
from booth.stays import Stay, stays
from booth.times import clock, format_time

WHAT_TO_DO = "Enter the start and the end of this coat for the van that it was, or that it was no coat."


@dataclass(frozen=True)
class Unclaimed:
    """A spell of spraying with more than one van in the booth. `coats`: van -> the coat that it would be, where one is left."""

    booth: str
    start: int
    end: int | None
    coats: dict[str, str | None]


class Asker:
    """Asks the newest readings what was sprayed and nobody claims."""

    def __init__(self, shop: Shop, ledger: Ledger, readings: Readings) -> None:
        self._shop, self._ledger, self._readings = shop, ledger, readings

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
        known = [(one, stay) for one in jobs for stay in stays(one.job)]
        found: list[Unclaimed] = []
        for booth_id, booth in self._shop.booths.items():
            here = [(one, stay) for one, stay in known if stay.booth == booth_id and stay.start < as_of]
            if booth.inference is None or booth.hazard is None or all(_is_alone_throughout(stay) for _, stay in here):
                continue
            entered = list(_entered(booth_id, here))
            ends = [run.end for runs in entered for run in runs if run.end is not None]
            ends += [us for _, stay in here for us in (*stay.changes, stay.start, stay.end) if us is not None]
            for span in _joined(stay for _, stay in here):
                bursts = list(spells(booth_id, booth, span, span[1], self._ledger, self._readings, as_of, ends))
                claims = _claimed(entered, bursts)
                found += self._asked(booth_id, here, [burst for burst in bursts if burst not in claims])
        return found

    def _asked(self, booth: str, here: list[tuple[Open, Stay]], bursts: Iterable[Stretch]) -> Iterator[Unclaimed]:
        """Also of a van that was alone by then, but may have had any of what was asked before."""
        doubtful: set[str] = set()
        for burst in bursts:
            there = [(one, stay) for one, stay in here if stay.covers(burst.start)]
            written = {one.job.vehicle: self._ledger.written_coats(one.job.vehicle) for one, _ in there}
            shared = any(stay.alone_at(burst.start) is None for _, stay in there)
            told = any(burst.start in known for known in written.values())
            if told or not (shared or doubtful & written.keys()) or all(one.job.round.closed is not None for one, _ in there):
                continue
            doubtful |= written.keys()
            coats = {
                one.job.vehicle: coat_of(one.job, one.shop.processes[one.job.process], burst, written[one.job.vehicle])
                for one, _ in there
            }
            yield Unclaimed(booth, burst.start, burst.end, coats)


def _is_alone_throughout(stay: Stay) -> bool:
    return stay.alone == ((stay.start, stay.end),)


def _joined(found: Iterable[Stay]) -> list[tuple[int, int | None]]:
    """Times in which any van was there."""
    joined: list[tuple[int, int | None]] = []
    for stay in sorted(found, key=lambda one: one.start):
        if joined and (joined[-1][1] is None or stay.start <= joined[-1][1]):
            start, end = joined.pop()
            joined.append((start, None if end is None or stay.end is None else max(end, stay.end)))
        else:
            joined.append((stay.start, stay.end))
    return joined


def _entered(booth: str, here: list[tuple[Open, Stay]]) -> Iterator[list[Run]]:
    """Of each van the coats that somebody entered and that were sprayed in this booth."""
    for one in {open_.job.vehicle: open_ for open_, _ in here}.values():
        coats = entered_coats(one.job, one.shop.processes[one.job.process])
        yield [run for run in coats if run.booth in (None, booth)]


def _claimed(entered: Iterable[list[Run]], bursts: list[Stretch]) -> list[Stretch]:
    """Spells that belong to a coat that somebody entered. One whose end nobody entered has the spell that its start lies in, or
    the next one after it, and no other."""
    found: list[Stretch] = []
    for runs in entered:
        for burst in bursts:
            run = explains(runs, burst)
            if run is not None and run.end is not None:
                found.append(burst)
        for run in runs:
            if run.end is None:
                found += [burst for burst in bursts if (burst.end or burst.so_far) > run.start][:1]
    return found
