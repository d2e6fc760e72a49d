"""One van's job, judged out of the store as of a moment: what every document and overview of it is made of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from booth.judge.assess import Assessment, assess
from booth.judge.facts import Job
from booth.judge.gather import Gatherer
from booth.judge.ledger import Ledger
from booth.shop.promises import Promises
from booth.shop.shop import Shop, load_shop
from booth.store import Entry, Store
from booth.times import format_time


class NoSuchVehicle(LookupError):
    """No job was opened for this vehicle, or it names a process that no configuration has."""


@dataclass(frozen=True)
class Judged:
    """A job with everything that a document about it is made of."""

    shop: Shop
    store: Store
    ledger: Ledger
    job: Job
    assessment: Assessment
    gatherer: Gatherer
    promises: Promises
    as_of: int
    first_entries: int | None = None

    def entries(self, kind: str) -> Iterator[Entry]:
        """The journal's entries of a kind about this vehicle, as far as this record knows."""
        for entry in self.store.journal.entries(vehicle=self.job.vehicle, kinds=[kind]):
            if is_known(entry, self.as_of, self.first_entries):
                yield entry


def judge_vehicle(
    shop: Shop, store: Store, vehicle: str, as_of: int, known_by: int | None = None, first_entries: int | None = None
) -> Judged:
    """The vehicle's job, judged from the store as of a moment. Raises NoSuchVehicle.

    `known_by` leaves out readings that arrived later, `first_entries` whatever the journal got after so many entries.
    """
    return judge_in(ledger_at(store, as_of, first_entries), shop, store, vehicle, as_of, known_by, first_entries)


def judge_in(
    ledger: Ledger,
    shop: Shop,
    store: Store,
    vehicle: str,
    as_of: int,
    known_by: int | None = None,
    first_entries: int | None = None,
) -> Judged:
    """The same where the journal has been read already."""
    job = ledger.job(vehicle)
    if job is None:
        known = ", ".join(ledger.vehicles) or "none yet"
        raise NoSuchVehicle(f"no job was opened for {vehicle!r} by {format_time(as_of)}; known vehicles: {known}")
    own = shop_of(store, job, shop)
    promises = Promises(own)
    gatherer = Gatherer(own, ledger, store.readings, as_of, known_by)
    return Judged(own, store, ledger, job, assess(job, promises, gatherer), gatherer, promises, as_of, first_entries)


def ledger_at(store: Store, as_of: int, first_entries: int | None = None) -> Ledger:
    """The journal as it tells of everything up to a moment."""
    return Ledger(entry for entry in store.journal.entries() if is_known(entry, as_of, first_entries))


def is_known(entry: Entry, as_of: int, first_entries: int | None = None) -> bool:
    """What happened after the moment isn't known at it.

    A configuration is known: it may be written down after what was done under it.
    """
    return (entry.kind == "config" or entry.effective <= as_of) and (first_entries is None or entry.seq <= first_entries)


def shop_of(store: Store, job: Job, current: Shop) -> Shop:
    """The configuration under which the job was opened, out of the journal.

    The current one stands in where the two are the same, and where a job of the past was entered under a process that came later.
    """
    for entry in store.journal.entries(kinds=["config"]) if job.config_sha256 not in (None, current.sha256) else ():
        if entry.body["sha256"] == job.config_sha256 and f"processes/{job.process}.toml" in entry.body["files"]:
            return load_shop(entry.body["files"])
    if job.process not in current.processes:
        raise NoSuchVehicle(
            f"{job.vehicle} was opened under the process {job.process!r}, which no configuration has that the journal keeps; "
            f"put processes/{job.process}.toml back"
        )
    return current
