"""Care of booths and of people's protection, folded out of the journal: what was done, and what is due when.

Whose a training or a fit test is stays in the entry's private part: `Due` tells how many, never who.
A correction changes when something was done; whatever else was entered wrong is entered anew, and the newest counts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from booth.judge.facts import Entry, Fact
from booth.shop.care_shapes import CARE_EVENTS, DUE_AGAIN, OF_A_PERSON, subject
from booth.shop.shop import Shop
from booth.times import DAY, duration_text, parse_time

KINDS = (*CARE_EVENTS, "review")
WARN_US = 7 * DAY
"""A week before it is due, so that somebody can still order a filter."""


@dataclass(frozen=True)
class Deed:
    """Something that was done: `subject` says which filter, gauge, gun; `body` is as it was entered."""

    kind: str
    booth: str | None
    subject: str | None
    time: int
    by: str | None
    body: Mapping[str, Any]
    text: str | None = None

    @property
    def valid_until(self) -> int | None:
        until = self.body.get("valid_until")
        return None if until is None else parse_time(until)

    @property
    def failed(self) -> bool:
        return self.body.get("result") == "failed"


class CareBook:
    """Every deed in the journal, oldest first."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        own: list[Entry] = []
        corrections: dict[str, list[Entry]] = defaultdict(list)
        for entry in entries:
            if entry.kind == "correction":
                corrections[entry.body["corrects"]].append(entry)
            elif entry.kind in KINDS:
                own.append(entry)
        self.deeds = sorted((_deed(one, corrections.get(one.id, ())) for one in own), key=lambda deed: deed.time)

    def of(self, booth: str, *kinds: str, until: int | None = None) -> list[Deed]:
        """Deeds in a booth, of some kinds or all, up to a moment."""
        return [
            deed
            for deed in self.deeds
            if deed.booth == booth and (not kinds or deed.kind in kinds) and (until is None or deed.time <= until)
        ]

    def grid(self, booth: str, mode: str, at: int) -> Deed | None:
        """The latest grid measured in a mode; a loaded booth's before an empty one's of the same day."""
        known = [deed for deed in self.of(booth, "grid", until=at) if deed.body["mode"] == mode]
        return known[-1] if known else None

    def of_people(self, kind: str, at: int) -> dict[str, Deed]:
        """The newest training or fit test of each person, by badge, with the respirator where it was for one."""
        known = (deed for deed in self.deeds if deed.kind == kind and deed.time <= at)
        return {f"{deed.by or 'redacted'}/{deed.subject or ''}": deed for deed in known}


def _deed(entry: Entry, corrections: Iterable[Entry]) -> Deed:
    ordered = sorted(corrections, key=lambda one: (one.effective, one.seq))
    fact = Fact(entry, [one.body["set"] for one in ordered], False)
    which = subject(entry.kind, fact.body)
    return Deed(entry.kind, fact.body.get("booth"), which, fact.time, fact.by, fact.body, entry.private.get("text"))


@dataclass(frozen=True)
class Due:
    """Care that comes round again. `at` None: it was never recorded, so that nobody knows since when it is due.

    `sentence` names no person. `failed`: the last test failed, and is due again at once.
    """

    booth: str | None
    kind: str
    subject: str | None
    last: int | None
    at: int | None
    source: str
    sentence: str
    failed: bool = False

    @property
    def id(self) -> str:
        """The same for the same thing, for ever: the id of its alarm."""
        return "/".join(part for part in (self.booth or "site", "care", self.kind, self.subject) if part)

    def is_over(self, now: int) -> bool:
        return self.failed or self.at is None or self.at <= now

    def is_near(self, now: int) -> bool:
        return self.is_over(now) or self.at - now <= WARN_US


def due(shop: Shop, book: CareBook, now: int) -> list[Due]:
    """Everything that is due once, with when; the caller tells what is over (`is_over`) from what is near (`is_near`)."""
    found: list[Due] = []
    for booth in shop.booths:
        for kind in DUE_AGAIN:
            found += _of_booth(shop, book, booth, kind, now)
    for kind in OF_A_PERSON:
        found += _of_people(book, kind, now)
    return found


def _of_booth(shop: Shop, book: CareBook, booth: str, kind: str, now: int) -> Iterable[Due]:
    told = shop.booths[booth].ventilation
    every = told.care.get(kind) if told is not None else None
    newest = {deed.subject: deed for deed in book.of(booth, kind, until=now)}
    wanted = told.filters if told is not None and kind == "filter-changed" and every is not None else {}
    for which in dict.fromkeys([*newest, *(name for name in wanted if name not in newest)]):
        deed = newest.get(which)
        at = _due_at(deed, every.every if every is not None else None)
        if deed is None or at is not None or deed.failed:
            source = every.source if every is not None else "valid until, as it was entered"
            yield _told(booth, kind, which, deed, at, source, now)
    if every is not None and not newest and not wanted:
        yield _told(booth, kind, None, None, None, every.source, now)


def _due_at(deed: Deed | None, every_us: int | None) -> int | None:
    """The earlier of what the paper says and what the shop's rule says."""
    if deed is None:
        return None
    said = [deed.valid_until, deed.time + every_us if every_us is not None else None]
    return min((moment for moment in said if moment is not None), default=None)


def _told(booth: str, kind: str, which: str | None, deed: Deed | None, at: int | None, source: str, now: int) -> Due:
    what = f"{WORDS[kind]}{f' ({which})' if which else ''} in {booth}"
    if deed is None:
        return Due(booth, kind, which, None, None, source, f"{what}: never recorded ({source})")
    if deed.failed:
        return Due(booth, kind, which, deed.time, at, source, f"{what}: failed when it was last done", failed=True)
    return Due(booth, kind, which, deed.time, at, source, f"{what}: {_when(at, now)} ({source})")


def _of_people(book: CareBook, kind: str, now: int) -> Iterable[Due]:
    """One for all people: an alarm names nobody."""
    newest = book.of_people(kind, now)
    ends = [deed.valid_until for deed in newest.values()]
    if not ends:
        return
    first = min(ends)
    over = [until for until in ends if until <= now]
    state = f"{len(over)} of {len(ends)} on record ran out"
    if not over:
        state = f"the first of {len(ends)} on record is {_when(first, now)}"
    last = max(deed.time for deed in newest.values())
    yield Due(None, kind, None, last, first, "valid until, as it was entered", f"{WORDS[kind]}: {state}")


def _when(at: int, now: int) -> str:
    days = abs(at - now) // DAY
    length = f"{days} days" if days > 1 else duration_text(abs(at - now))
    return f"due {length} ago" if at <= now else f"due in {length}"


WORDS = {
    "filter-changed": "Filter change",
    "grid": "Measured grid of velocities",
    "booth-examined": "Examination of the booth",
    "interlock-tested": "Interlock test",
    "gauge-tested": "Gauge test",
    "alarm-tested": "Alarm test",
    "gun-cleaned": "Gun cleaning",
    "spray-training": "Spray training",
    "fit-test": "Fit test",
}
