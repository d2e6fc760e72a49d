"""What the readings say of the instruments themselves, into the journal: each fault with its beginning and its end, once.

Looked at is what lies behind the allowed lateness, so that the order of arrival changes nothing. The journal is the only memory:
what is found in a window is held against it, and what it lacks is drafted under an id that is always the same. A reading that
comes later still has its booth looked at again from there on, however old it is: what nobody looked at would be evidence.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from booth.judge.health.detect import NONE, Window, detect
from booth.judge.health.entries import entry_id, interval_body
from booth.judge.health.faults import DISAGREES, STALE
from booth.judge.health.settling import as_known_at, back_to, changes, no_longer_asked
from booth.judge.health.spans import Interval
from booth.judge.health.terms import LOOKED_EVERY_US, Terms, terms_of
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.live_readings import LiveReadings
from booth.out_of_range import Impossible
from booth.shop.shop import Shop
from booth.store import Draft, Reading, Store
from booth.times import DAY, HOUR, MINUTE, SECOND

IMPOSSIBLE_KEPT_US = 31 * HOUR
HEARD_BEFORE_US = 12 * HOUR  # how far back the last word of a silent point is looked for
NEAR_US = 5 * MINUTE  # and how far back without asking the disk
IN_MEMORY_US = 30 * MINUTE
AT_ONCE_US = HOUR  # of a long time that nobody looked at
MOST_AT_ONCE = 48  # so many of those in one look: readings are kept and alarms told between them


class Diagnoser:
    """`ledger` follows the journal; `drafts` gives what it lacks, and `written` says that it is in there now.

    `left_off`: when an earlier logger last wrote anything into the journal; None where none did.
    """

    def __init__(self, shop: Shop, store: Store, ledger: Ledger, left_off: int | None = None) -> None:
        self._shop, self._store, self._ledger = shop, store, ledger
        self._terms = {booth: [terms_of(shop, booth, name) for name in one.points] for booth, one in shop.booths.items()}
        self._left_off = left_off
        self._done: int | None = None  # up to here all is in the journal
        self._looked_to = 0  # and up to here there are drafts
        self._late: dict[str, int] = {}  # by booth: readings have come from as early as this
        self._late_to: dict[str, int] = {}  # and up to here there are drafts of that booth
        self._behind = False  # a look didn't get to the end of what is late
        self._begun = self._counted_from = 0  # where this logger began, and since when every arrival is counted
        self._recent: LiveReadings | None = None  # None: of the past, all comes from the store
        self._minutes: dict[str, dict[int, int]] = defaultdict(dict)  # by point: smallest arrival less instrument time
        self._newest: dict[str, tuple[int, int]] = {}  # by point: time and arrival of the newest reading
        self._impossible = Impossible(shop, store.quarantine)

    def add(self, readings: Iterable[Reading]) -> None:
        """What was just committed."""
        readings = tuple(readings)
        if self._recent is not None:
            self._recent.add(readings)
        for one in readings:
            self._count(one)
            self._note_late(one.point, one.time)

    def drafts(self, as_of: int) -> list[Draft]:
        """Entries that the journal lacks about everything up to the allowed lateness before `as_of`."""
        settled = as_of - self._shop.site.judging.allowed_lateness
        until = settled // LOOKED_EVERY_US * LOOKED_EVERY_US  # at the same moments after a restart too
        if self._done is None:
            self._begin_at(min(until, self._begin(until)), until)
        if until <= self._done and not self._behind:
            return []
        for point, time, arrived in self._impossible.new():
            if arrived >= self._begun:  # what came before, an earlier logger looked at
                self._note_late(point, time)
        found, self._looked_to = self._catch_up(), self._done
        if not found and all(to >= self._done for to in self._late_to.values()):
            found = self._go_on(until)
        return [_draft(one, as_of) for one in found]

    def looked_at(self, since: int, until: int, recorded: int) -> list[Draft]:
        """Entries that the journal lacks about a stretch of the past. Without arrivals of their own clocks aren't judged."""
        self._impossible.new()
        return [_draft(one, recorded) for booth in self._terms for one in self._step(booth, since, until)]

    def written(self) -> None:
        """The drafts are in the journal."""
        if self._done is None:
            return
        self._late = {booth: to for booth, to in self._late_to.items() if to < self._done}
        self._late_to, self._behind = {}, bool(self._late)
        if self._looked_to > self._done:
            self._done = self._looked_to
            self._forget(self._done)

    def _begin_at(self, begin: int, until: int) -> None:
        self._done = self._begun = begin
        self._recent = LiveReadings(self._store.readings, until - IN_MEMORY_US)
        self._counted_from = max(begin, until - HOUR)
        self._recount(self._counted_from, until)

    def _begin(self, until: int) -> int:
        """Where an earlier logger left off; without one, at the first reading that there is."""
        if self._left_off is not None:
            return self._left_off - MINUTE
        spans = (self._store.readings.span(one.point) for each in self._terms.values() for one in each)
        return min((span[0] for span in spans if span is not None), default=until)

    def _catch_up(self) -> list[Interval]:
        """What late readings changed about the time that was looked at before. Where something is found, the rest of that booth
        waits: what is found must be in the journal before anybody looks further."""
        found: list[Interval] = []
        self._late_to = dict(self._late)
        for booth, late in self._late.items():
            for since in range(late, min(self._done, late + MOST_AT_ONCE * AT_ONCE_US), AT_ONCE_US):
                self._late_to[booth] = min(self._done, since + AT_ONCE_US)
                own = self._step(booth, since, self._late_to[booth])
                found += own
                if own:
                    break
        return found

    def _go_on(self, until: int) -> list[Interval]:
        """The time since the last look, no further than where something is found."""
        found: list[Interval] = []
        last = min(until, self._looked_to + MOST_AT_ONCE * AT_ONCE_US)
        while self._looked_to < last and not found:
            since, self._looked_to = self._looked_to, min(last, self._looked_to + AT_ONCE_US)
            found = [one for booth in self._terms for one in self._step(booth, since, self._looked_to)]
        return found

    def _step(self, booth: str, since: int, until: int) -> list[Interval]:
        window = self._window(booth, self._terms[booth], since, until)
        return [one for terms in self._terms[booth] for one in self._changes(terms, window)]

    def _changes(self, terms: Terms, window: Window) -> Iterator[Interval]:
        earliest = min([window.start, *(int(one.times[0]) for one in window.series.values() if len(one))])
        known = self._known(terms.point, earliest, window.as_of)
        asked = [fault for fault, _ in terms.told_within()]
        for answer in detect(terms, window):
            yield from changes(terms.point, answer, [one for one in known if one.fault == answer.fault])
            if terms.partner is not None and answer.fault == DISAGREES:
                theirs = [one for one in self._known(terms.partner, earliest, window.as_of) if one.fault == answer.fault]
                yield from changes(terms.partner, answer, theirs)
        watched = any(one.partner == terms.point for one in self._terms[terms.point.partition("/")[0]])
        yield from no_longer_asked(known, [*asked, *([DISAGREES] if watched else [])], window.since)

    def _known(self, point: str, since: int, as_of: int) -> list[Interval]:
        return as_known_at(self._ledger.health_since(point, since - DAY), as_of)

    def _window(self, booth: str, terms: list[Terms], since: int, until: int) -> Window:
        reach = max(one.reach_us for one in terms)
        start = since - reach
        if booth in self._late:
            known = [interval for one in terms for interval in self._known(one.point, start, until)]
            start = back_to(start, known, reach)
        mode = self._shop.booths[booth].mode_point
        series = {one.point: self._series(one, start, until) for one in terms}
        return Window(
            start,
            since,
            until,
            series,
            series[f"{booth}/{mode}"] if mode else None,
            (self._shop.booths[booth].points[mode].words or ()) if mode else (),
            {one.point: self._impossible.times(one.point, start, until) for one in terms},
            {one.point: self._full_minutes(one, since, until) for one in terms},
            dict(self._arrivals(terms)),
        )

    def _series(self, terms: Terms, start: int, until: int) -> Series:
        """Readings from `start` on and the last one before, however long a silence lasts that the journal knows of."""
        near = self._recent.evidence(terms.point, start, until + 1, NEAR_US) if self._recent is not None else None
        if near is not None and len(near) and near.times[0] <= start:
            return replace(near, max_age_us=terms.max_age_us)
        quiet = [one.start for one in self._ledger.health_since(terms.point, start) if one.fault == STALE and one.end is None]
        newest, _ = self._newest.get(terms.point, (start, 0))
        heard = max([HEARD_BEFORE_US, start - newest, *(start - one + terms.stale_us + SECOND for one in quiet)])
        found = self._store.readings.evidence(terms.point, start, until + 1, heard)
        return replace(found, max_age_us=terms.max_age_us)

    def _arrivals(self, terms: list[Terms]) -> Iterator[tuple[str, tuple[int, int]]]:
        for one in terms:
            if one.point in self._newest:
                yield one.point, self._newest[one.point]

    def _full_minutes(self, terms: Terms, since: int, until: int) -> tuple[np.ndarray, np.ndarray]:
        counted = self._minutes.get(terms.point, {})
        first = (since - terms.clock_us - 2 * MINUTE) // MINUTE * MINUTE
        if since < self._counted_from:  # what arrived then, and when, isn't counted any more
            return NONE, NONE
        full = sorted(one for one in counted if first <= one <= until - MINUTE)
        if not full:
            return NONE, NONE
        return np.array(full, np.int64), np.array([counted[one] for one in full], np.int64)

    def _count(self, reading: Reading) -> None:
        minutes, minute = self._minutes[reading.point], reading.time // MINUTE * MINUTE
        offset = reading.arrived - reading.time
        minutes[minute] = min(offset, minutes.get(minute, offset))
        if reading.time >= self._newest.get(reading.point, (reading.time, 0))[0]:
            self._newest[reading.point] = reading.time, reading.arrived

    def _recount(self, since: int, until: int) -> None:
        """What an earlier logger counted."""
        for terms in (one for each in self._terms.values() for one in each):
            for reading in self._store.readings.rows(terms.point, since - terms.clock_us - 2 * MINUTE, until + MINUTE):
                self._count(reading)

    def _note_late(self, point: str, time: int) -> None:
        booth = point.partition("/")[0]
        if self._done is not None and time <= self._done and booth in self._terms:
            self._late[booth] = min(time, self._late.get(booth, time))

    def _forget(self, until: int) -> None:
        oldest = until - self._shop.site.health.clock_after - 10 * MINUTE
        self._counted_from = max(self._counted_from, until - 8 * MINUTE)
        for point, minutes in self._minutes.items():
            if len(minutes) > 60:
                self._minutes[point] = {minute: offset for minute, offset in minutes.items() if minute >= oldest}
        self._impossible.forget_before(min([until, *self._late.values()]) - IMPOSSIBLE_KEPT_US)
        if self._recent is not None:
            self._recent.forget_before(until - IN_MEMORY_US)


def diagnose_past(shop: Shop, store: Store, since: int, until: int, now: int) -> None:
    """Journal what the readings of [since, until] say, where they came out of files and no logger was there to look at them."""
    ledger = Ledger(store.journal.entries())
    diagnoser = Diagnoser(shop, store, ledger)
    for begin in range(since, until, AT_ONCE_US):
        drafts = diagnoser.looked_at(begin, min(until, begin + AT_ONCE_US), now)
        for one in store.journal.append(drafts):
            if one.new:
                ledger.add(one.entry)


def _draft(interval: Interval, as_of: int) -> Draft:
    """An end counts from its own time on; all else from the beginning."""
    ended = interval.end is not None and interval.entries > 1 and not interval.withdrawn
    effective = interval.end if ended else interval.start
    return Draft("health", interval_body(interval), effective, as_of, "logger", entry_id(interval))
