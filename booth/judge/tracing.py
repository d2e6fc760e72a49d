"""Which vans have something in common: a lot on them, a booth and a day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from booth.judge.facts import Entry, Job, Place
from booth.judge.ledger import Ledger
from booth.times import HOUR

SAME_SHIFT_US = 12 * HOUR


def vehicles_with_lot(ledger: Ledger, lot: str) -> dict[str, list[str]]:
    """Vehicle -> the steps that a lot was used in."""
    found: dict[str, list[str]] = defaultdict(list)
    for vehicle in ledger.vehicles:
        for component, number, step in lots_of(ledger, ledger.job(vehicle)):
            if number == lot:
                found[vehicle].append(f"{step}: {component} {number}")
    return dict(found)


def lots_named(entries: Iterable[Entry]) -> set[str]:
    """Every lot that any mix names, or a correction of one."""
    told = (entry.body.get("set") or entry.body for entry in entries if entry.kind in ("mix", "correction"))
    return {lot for body in told for lot in (body.get("lots") or {}).values()}


def booths_named(entries: Iterable[Entry]) -> set[str]:
    """Every booth that a van was ever loaded into."""
    return {entry.body.get("booth", "") for entry in entries if entry.kind == "load"}


def vehicles_in_booth(ledger: Ledger, booth: str, start: int, end: int) -> dict[str, list[str]]:
    """Vehicle -> the booth, for those that stood in it in [start, end)."""
    found: dict[str, list[str]] = {}
    for vehicle in ledger.vehicles:
        for place in ledger.job(vehicle).places:
            if place.booth == booth and place.start < end and (place.end is None or place.end > start):
                found[vehicle] = [f"stood in {booth}"]
    return found


def near_vehicle(ledger: Ledger, vehicle: str) -> dict[str, list[str]]:
    """Other vehicle -> what it shares with this one: lots, or a booth within the same shift."""
    job = ledger.job(vehicle)
    found: dict[str, list[str]] = defaultdict(list)
    if job is None:
        return {}
    own_lots = {(component, number) for component, number, _ in lots_of(ledger, job)}
    for other in ledger.vehicles:
        if other == vehicle:
            continue
        theirs = ledger.job(other)
        shared = sorted({(component, number) for component, number, _ in lots_of(ledger, theirs)} & own_lots)
        found[other] += [f"shares {component} {number}" for component, number in shared]
        booths = {
            place.booth
            for place in job.places
            for also in theirs.places
            if also.booth == place.booth and _same_shift(place, also)
        }
        found[other] += [f"same shift in {booth}" for booth in sorted(booths)]
    return {other: because for other, because in found.items() if because}


def lots_of(ledger: Ledger, job: Job) -> list[tuple[str, str, str]]:
    """(component, lot, step) of everything that went onto a van."""
    found = []
    for round_ in job.rounds:
        for run in round_.runs:
            for name in run.mixes:
                mix = ledger.mix(name, run.end)
                found += [(component, lot, run.step) for component, lot in (mix.lots if mix else {}).items()]
    return found


def _same_shift(one: Place, other: Place) -> bool:
    return abs(one.start - other.start) <= SAME_SHIFT_US
