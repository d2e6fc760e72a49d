"""Which old readings nobody needs any more, and deleting them where the site asks for it.

Needed is whatever a paint record rests on, for as long as there is a journal: all points of every booth that had to do with a
round of a job, from the first of its facts to its close and a day on either side, all of them now for a round that is open; and
every stretch whose hash the journal keeps. What is deleted is therefore the air of nights, weekends and empty booths; what its
hours amounted to stays.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from booth.grounds import grounds_in
from booth.judge.facts import Job, Round
from booth.judge.ledger import Ledger
from booth.shop.shop import Shop
from booth.store import Draft, Store
from booth.store.pruning import Stretch
from booth.times import DAY, format_time, parse_time

DISTRUSTED_US = 7 * DAY
ALWAYS = 2**62
EVERYWHERE = "*"
KIND = "retention"


@dataclass(frozen=True)
class Needed:
    """Stretches of time by booth, ascending and apart from each other. `open_since`: when the oldest open round began."""

    by_booth: dict[str, list[tuple[int, int]]]
    open_since: int | None = None

    def __call__(self, point: str, start: int, end: int) -> bool:
        """Whether a record needs anything of a point in [start, end)."""
        return any(_reaches(self.by_booth.get(booth, []), start, end) for booth in (point.partition("/")[0], EVERYWHERE))


@dataclass(frozen=True)
class Pruned:
    """What was deleted, and the longest time that other writers had to wait."""

    stretches: tuple[Stretch, ...]
    longest_lock_s: float


def before(shop: Shop, store: Store, now: int) -> int | None:
    """The moment from which on readings are kept; None where all are.

    It is counted back from the newest reading where that is older than now: a clock that leaps ahead by years deletes nothing.
    Instruments without a clock leap with it, so nothing is deleted either for DISTRUSTED_US after the logger saw a leap.
    """
    keep = shop.site.store.keep_readings
    if keep is None or leapt(store, now):
        return None
    spans = (store.readings.span(point) for point in store.readings.points())
    newest = max((span[1] for span in spans if span), default=now)
    return min(now, newest) - keep


def leapt(store: Store, now: int) -> bool:
    """Whether the clock made a leap of a day or more so lately that nobody may have noticed yet."""
    steps = list(store.journal.entries(kinds=["clock-step"]))
    leaps = [one for one in steps if abs(parse_time(one.body["after"]) - parse_time(one.body["before"])) >= DAY]
    return any(now - one.recorded < DISTRUSTED_US for one in leaps)


class _Needed:
    """`needed`, worked out when it is first asked: a store in which nothing is old needn't fold its whole journal."""

    def __init__(self, shop: Shop, store: Store) -> None:
        self._shop, self._store, self._known = shop, store, None

    def __call__(self, point: str, start: int, end: int) -> bool:
        self._known = self._known or needed(self._shop, self._store)
        return self._known(point, start, end)


def needed(shop: Shop, store: Store) -> Needed:
    """What the records of all jobs need, as far as the journal knows them."""
    found: dict[str, list[tuple[int, int]]] = defaultdict(list)
    ledger = Ledger(store.journal.entries())
    margin = max([DAY, *(point.max_age + point.recovery for room in shop.booths.values() for point in room.points.values())])
    open_since = None
    for vehicle in ledger.vehicles:
        job = ledger.job(vehicle)
        for round_ in job.rounds:
            start, end = _span(ledger, job, round_)
            for booth in _booths(ledger, job, round_, shop):
                found[booth].append((start - margin, end + margin))
            if round_.closed is None:
                open_since = min(start, open_since if open_since is not None else start)
    for entry in store.journal.entries(kinds=["finding"]):
        for ground, _ in grounds_in(entry.body):
            for point in ground.points:
                found[point.partition("/")[0]].append((ground.start, ground.end))
    return Needed({booth: list(_joined(stretches)) for booth, stretches in found.items()}, open_since)


def prune(shop: Shop, store: Store, now: int, enough: Callable[[], bool] = lambda: False) -> Pruned:
    """Seal and delete what nobody needs, each stretch with a journal entry. Does nothing where the site keeps all."""
    limit = before(shop, store, now)
    if limit is None:
        return Pruned((), 0.0)
    store.readings.seal(limit, enough=enough)

    def write(stretch: Stretch) -> int:
        draft = Draft(KIND, _body(stretch), now, now, "logger")
        return store.journal.append([draft])[0].entry.seq

    done = list(store.readings.pruning.prune(limit, _Needed(shop, store), write, enough))
    return Pruned(tuple(stretch for stretch, _ in done), max((held for _, held in done), default=0.0))


def _body(stretch: Stretch) -> dict[str, object]:
    return {
        "point": stretch.point,
        "from": format_time(stretch.start),
        "to": format_time(stretch.end),
        "count": stretch.count,
        "sha256": stretch.sha256,
        "summaries_sha256": stretch.summaries_sha256,
    }


def _span(ledger: Ledger, job: Job, round_: Round) -> tuple[int, int]:
    """From the first of a round's facts to its close."""
    times = [round_.opened, *(run.start for run in round_.runs), *(one.time for one in round_.films)]
    times += [mix.time for run in round_.runs for name in run.mixes if (mix := ledger.mix(name, run.start)) is not None]
    times += [place.start for place in job.places if place.end is None or place.end > round_.opened]
    ends = [round_.closed, *(run.end for run in round_.runs)]
    return min(times), ALWAYS if round_.closed is None else max(end for end in ends if end is not None)


def _booths(ledger: Ledger, job: Job, round_: Round, shop: Shop) -> set[str]:
    """Every booth that had to do with it; everywhere, where a run doesn't say where it was."""
    found = {run.booth or EVERYWHERE for run in round_.runs} | {place.booth for place in job.places}
    mixes = (ledger.mix(name, run.start) for run in round_.runs for name in run.mixes)
    found |= {mix.booth for mix in mixes if mix is not None and mix.booth is not None}
    if shop.site.barometer is not None:
        found.add(shop.site.barometer.partition("/")[0])
    return found


def _joined(stretches: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    start = end = None
    for begin, past in sorted(stretches):
        if end is None or begin > end:
            if end is not None:
                yield start, end
            start, end = begin, past
        end = max(end, past)
    if end is not None:
        yield start, end


def _reaches(stretches: list[tuple[int, int]], start: int, end: int) -> bool:
    at = bisect_right(stretches, (end - 1, ALWAYS * 2))  # the last one that begins before the end
    return at > 0 and stretches[at - 1][1] > start
