"""What would have passed: jobs of the past judged again under another process file and the coatings of today.

It changes nothing: the records stay judged under the promises that were in force when their jobs were opened.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from booth.judge.assess import Assessment, assess
from booth.judge.finding import Finding, Verdict
from booth.judge.gather import Gatherer
from booth.judge.ledger import Ledger
from booth.reports.judged import ledger_at, shop_of
from booth.shop.problems import ConfigError
from booth.shop.promises import Promises
from booth.shop.shop import Shop, load_shop
from booth.store import Store


@dataclass(frozen=True)
class Change:
    """One requirement that is judged otherwise; a verdict is None where that side doesn't ask for it."""

    requirement: str
    before: Verdict | None
    after: Verdict | None
    sentence: str


@dataclass(frozen=True)
class Rejudged:
    """A van's verdict under its own promises and under the new ones."""

    vehicle: str
    before: Verdict
    after: Verdict
    changes: tuple[Change, ...]


def rejudge(shop: Shop, store: Store, file: Path, start: int, end: int, as_of: int) -> list[Rejudged]:
    """Every van of the file's body type whose job was opened in [start, end), in order of opening.

    Raises ConfigError, naming the file, when it is no process of this shop.
    """
    text = file.read_text(encoding="utf-8")
    ledger = ledger_at(store, as_of)
    body = _trial(shop, shop, "trial", text, file).processes["trial"].body
    found = []
    for job in (ledger.job(vehicle) for vehicle in ledger.vehicles):
        own = shop_of(store, job, shop)
        if start <= job.opened < end and own.processes[job.process].body == body:
            before = _assess(own, ledger, store, job.vehicle, as_of)
            after = _assess(_trial(own, shop, job.process, text, file), ledger, store, job.vehicle, as_of)
            found.append(Rejudged(job.vehicle, before.verdict, after.verdict, tuple(changes(before, after))))
    return found


def _assess(shop: Shop, ledger: Ledger, store: Store, vehicle: str, as_of: int) -> Assessment:
    return assess(ledger.job(vehicle), Promises(shop), Gatherer(shop, ledger, store.readings, as_of))


def changes(before: Assessment, after: Assessment) -> Iterable[Change]:
    """The requirements of the latest round that are judged otherwise, or that only one side asks for."""
    old, new = ({one.requirement: one for one in each.rounds[-1].findings} for each in (before, after))
    for name in dict.fromkeys((*old, *new)):
        was, now = old.get(name), new.get(name)
        if _verdict(was) is not _verdict(now):
            yield Change(name, _verdict(was), _verdict(now), (now or was).sentence)


def _verdict(finding: Finding | None) -> Verdict | None:
    return None if finding is None else finding.verdict


def _trial(then: Shop, today: Shop, process: str, text: str, file: Path) -> Shop:
    """The rooms and instruments as they were then, the coatings of today, and this one process."""
    name = f"processes/{process}.toml"
    rooms = {key: value for key, value in then.files.items() if not key.startswith(("coatings/", "processes/"))}
    coatings = {key: value for key, value in today.files.items() if key.startswith("coatings/")}
    try:
        return load_shop(rooms | coatings | {name: text})
    except ConfigError as error:
        raise ConfigError([replace(one, file=str(file)) if one.file == name else one for one in error.problems]) from None
