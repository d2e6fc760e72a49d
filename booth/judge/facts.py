"""What the journal says happened, as plain facts: the matter that a job is folded from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from booth.shop.event_shapes import REMOVABLE
from booth.times import parse_time


class Entry(Protocol):
    """What the fold needs of a journal entry (booth.store.Entry has it)."""

    seq: int
    id: str
    kind: str
    effective: int
    recorded: int
    channel: str
    body: Mapping[str, Any]
    private: Mapping[str, str | None]


class Fact:
    """An entry with its corrections applied. `void` where somebody said that it was not a coat."""

    __slots__ = ("entry", "time", "body", "void")

    def __init__(self, entry: Entry, sets: Iterable[Mapping[str, Any]], void: bool) -> None:
        self.entry, self.time, self.body, self.void = entry, entry.effective, dict(entry.body), void
        for change in sets:
            # Whatever an old journal holds: a fact that an event can't do without isn't taken away.
            changed = {name: value for name, value in change.items() if value is not None or name in REMOVABLE}
            if "time" in changed:
                self.time = parse_time(changed.pop("time"))
            self.body.update(changed)

    @property
    def by(self) -> str | None:
        return self.entry.private.get("by")

    @property
    def source(self) -> str:
        """Who or what told of it: entered, signalled or inferred."""
        return self.entry.channel if self.entry.channel in ("inferred", "signalled") else "entered"


@dataclass(frozen=True)
class Pass:
    """One pass over a zone (None: the whole van); `end` is None while it lasts."""

    zone: str | None
    start: int
    end: int | None
    source: str = "entered"


@dataclass(frozen=True)
class Run:
    """A step as it was done. `source` says how its start and end are known: entered, signalled, inferred or derived."""

    step: str
    kind: str
    booth: str | None
    start: int
    end: int | None
    source: str
    passes: tuple[Pass, ...] = ()
    holds: tuple[tuple[int, int | None], ...] = ()
    mix: str | None = None  # the one that is judged: the first, or each of `mixes` in turn
    mixes: tuple[str, ...] = ()  # every mix that went into it
    by: str | None = None  # who began it
    hands: tuple[str, ...] = ()  # everybody who entered something about it, a handover too


@dataclass(frozen=True)
class Check:
    check: str
    result: str
    time: int
    by: str | None
    values: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Mix:
    mix: str
    coating: str
    time: int
    by: str | None
    booth: str | None
    pot: str | None
    lots: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Film:
    step: str
    zone: str | None
    value: str
    gauge: str
    time: int
    by: str | None


@dataclass(frozen=True)
class Place:
    """A van in a booth from one load to the next, with the guns and part probes assigned to it."""

    booth: str
    start: int
    end: int | None
    guns: tuple[str, ...]
    probes: Mapping[str, str]  # point -> zone
    alone: bool


@dataclass(frozen=True)
class Saying:
    """A note, concession, correction or release: somebody's words, with whatever they are about."""

    kind: str
    time: int
    by: str | None
    text: str | None
    about: str | None = None
    set: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Calibration:
    point: str
    time: int
    result: str
    valid_until: int
    as_found: str | None = None
    as_left: str | None = None


def is_among(who: str | None, people: Iterable[str]) -> bool:
    """Whether somebody is one of these people, however they wrote their name or badge: `ANNA ` is Anna."""
    return who is not None and _plainly(who) in {_plainly(one) for one in people}


def _plainly(name: str) -> str:
    return " ".join(name.casefold().split())


@dataclass(frozen=True)
class Round:
    """One passage through the process; rework opens a further one and overwrites nothing."""

    number: int
    opened: int
    closed: int | None
    reason: str | None
    runs: tuple[Run, ...]
    checks: tuple[Check, ...]
    films: tuple[Film, ...]

    def run(self, step: str) -> Run | None:
        return next((run for run in self.runs if run.step == step), None)


@dataclass(frozen=True)
class Job:
    """One vehicle through one process."""

    vehicle: str
    process: str
    config_sha256: str | None
    opened: int
    closed: int | None
    rounds: tuple[Round, ...]
    places: tuple[Place, ...]
    sayings: tuple[Saying, ...]

    @property
    def sprayers(self) -> frozenset[str]:
        """Whoever had a hand in a coat or another step of this van; a concession isn't theirs to give."""
        return frozenset(hand for round_ in self.rounds for run in round_.runs for hand in run.hands)

    @property
    def round(self) -> Round:
        return self.rounds[-1]
