"""Every van's record in one line, for finding it: from the journal alone, nothing is judged anew.

The verdict is the one issued at each step's end (the journal's `finding` entries), the newest of each step; what is to be said of
steps that nothing was issued for, the caller says. Only vans that a new entry is about are folded again, so years of
records cost what the last minute brought.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from booth.judge.facts import Job, is_among
from booth.judge.finding import Verdict, overall
from booth.judge.ledger import Ledger
from booth.judge.no_coats import NoCoats
from booth.judge.tracing import lots_of
from booth.store import Entry
from booth.web.desk.second_thoughts import SecondThoughts

Unissued = Callable[[Job], Mapping[str, Sequence[Verdict]]]
"""Of each step of a job's process: its verdicts if nothing was issued for it."""


@dataclass(frozen=True)
class Row:
    """One van. Times in microseconds UTC; `people` are badges, `state` says open, closed, released …"""

    vehicle: str
    process: str
    opened: int
    closed: int | None
    round: int
    verdict: Verdict
    state: str
    booths: tuple[str, ...]
    people: tuple[str, ...]
    lots: tuple[str, ...]
    issued: int  # how many steps of the round were issued
    doubted: bool = False  # something told after that puts what was issued in doubt


@dataclass(frozen=True)
class Query:
    """What is looked for; what is empty isn't. Texts match any part, large or small letters alike."""

    van: str = ""
    lot: str = ""
    booth: str = ""
    person: str = ""
    verdict: str = ""
    start: int | None = None  # worked on at or after
    end: int | None = None  # and before

    def matches(self, row: Row) -> bool:
        return (
            _in(self.van, (row.vehicle,))
            and _in(self.lot, row.lots)
            and _in(self.person, row.people)
            and (not self.booth or self.booth in row.booths)
            and (not self.verdict or row.verdict.value == self.verdict)
            and (self.end is None or row.opened < self.end)
            and (self.start is None or row.closed is None or row.closed >= self.start)
        )


def _in(wanted: str, texts: Iterable[str]) -> bool:
    return not wanted.strip() or any(wanted.strip().casefold() in text.casefold() for text in texts)


class RecordIndex:
    """Feed it every entry once, in order; not for two threads at once."""

    def __init__(self, unissued: Unissued) -> None:
        self._unissued = unissued
        self._own: dict[str, dict[str, Entry]] = defaultdict(dict)  # vehicle -> entries that its fold needs
        self._corrections: dict[str, list[Entry]] = defaultdict(list)
        self._vehicles_of: dict[str, set[str]] = defaultdict(set)  # entry id -> vehicles that it is about
        self._mixes: dict[str, list[Entry]] = defaultdict(list)  # name -> entries: names come again
        self._mix_of: dict[str, str] = {}  # entry id -> name
        self._users: dict[str, set[str]] = defaultdict(set)  # name -> vehicles
        self._used: dict[str, set[str]] = defaultdict(set)  # vehicle -> names
        self._issued: dict[str, dict[tuple[int, str], list[Verdict]]] = defaultdict(dict)  # vehicle -> (round, step) -> verdicts
        self._second = SecondThoughts()
        self._rows: dict[str, Row] = {}
        self._dirty: set[str] = set()

    def add(self, entry: Entry) -> None:
        body = entry.body
        self._dirty |= self._second.add(entry)
        if entry.kind == "finding":
            verdicts = [Verdict(one["verdict"]) for one in body["findings"]]
            self._issued[body["vehicle"]][body["round"], body["step"]] = verdicts
            self._dirty.add(body["vehicle"])
        elif entry.kind == "mix":
            self._mixes[body["mix"]].append(entry)
            self._mix_of[entry.id] = body["mix"]
            self._dirty |= self._users[body["mix"]]
        elif "corrects" in body:
            self._correct(entry)
        elif entry.kind == "not-a-coat":  # by its time: of whichever van the guns told meanwhile
            said = NoCoats([entry])
            self._keep(entry, [van for van, own in self._own.items() if any(said.voiding(one) for one in own.values())])
        elif entry.kind == "load":
            self._keep(entry, [van["vehicle"] for van in body["vans"]])
        elif body.get("vehicle") and entry.kind not in ("alarm", "acknowledge"):
            self._keep(entry, [body["vehicle"]])
            self._use(body.get("mix"), body["vehicle"])

    def _keep(self, entry: Entry, vehicles: Iterable[str]) -> None:
        for vehicle in vehicles:
            self._own[vehicle][entry.id] = entry
            self._vehicles_of[entry.id].add(vehicle)
            self._dirty.add(vehicle)

    def _use(self, mix: str | None, vehicle: str) -> None:
        if mix:
            self._users[mix].add(vehicle)
            self._used[vehicle].add(mix)

    def _correct(self, entry: Entry) -> None:
        """Of an entry about a van, or of a mix that went onto some; a correction may also say that it was another van."""
        corrected = entry.body["corrects"]
        self._corrections[corrected].append(entry)
        change = entry.body.get("set", {})
        about = self._vehicles_of[corrected]
        named = [change.get("vehicle"), *(van["vehicle"] for van in change.get("vans") or ())]
        for vehicle in {*about, *filter(None, named)}:
            original = next((self._own[one][corrected] for one in about if corrected in self._own[one]), None)
            if original is not None:
                self._keep(original, [vehicle])
                self._use(original.body.get("mix"), vehicle)
            self._use(change.get("mix"), vehicle)
        self._dirty |= about | self._users.get(self._mix_of.get(corrected, ""), set())

    def rows(self) -> list[Row]:
        """All vans that a job was opened for, the newest first."""
        for vehicle in self._dirty:
            row = self._fold(vehicle)
            if row is None:
                self._rows.pop(vehicle, None)
            else:
                self._rows[vehicle] = row
        self._dirty.clear()
        return sorted(self._rows.values(), key=lambda row: (-row.opened, row.vehicle))

    def find(self, query: Query) -> list[Row]:
        return [row for row in self.rows() if query.matches(row)]

    def _fold(self, vehicle: str) -> Row | None:
        own = list(self._own[vehicle].values())
        mixes = [mix for name in self._used[vehicle] for mix in self._mixes[name]]
        corrections = [one for entry in [*own, *mixes] for one in self._corrections.get(entry.id, ())]
        ledger = Ledger(sorted([*own, *mixes, *corrections], key=lambda entry: entry.seq))
        job = ledger.job(vehicle)
        if job is None:
            return None
        people = {entry.private.get("by") for entry in [*own, *corrections]} | {mix.private.get("by") for mix in mixes}
        booths = [place.booth for place in job.places] + [run.booth for run in job.round.runs if run.booth]
        return Row(
            vehicle=vehicle,
            process=job.process,
            opened=job.opened,
            closed=job.closed,
            round=job.round.number,
            verdict=self._verdict(vehicle, job),
            state=_state(job),
            booths=tuple(dict.fromkeys(booths)),
            people=tuple(sorted(filter(None, people))),
            lots=tuple(sorted({lot for _, lot, _ in lots_of(ledger, job)})),
            doubted=self._second.of(vehicle, job.round.number),
            issued=sum(number == job.round.number for number, _ in self._issued[vehicle]),
        )

    def _verdict(self, vehicle: str, job: Job) -> Verdict:
        issued = {step: found for (number, step), found in self._issued[vehicle].items() if number == job.round.number}
        each = dict(self._unissued(job)) | issued
        return overall(verdict for verdicts in each.values() for verdict in verdicts)


def _state(job: Job) -> str:
    """What people have done about it. Whoever sprayed it can't have released it."""
    said = [one.kind for one in job.sayings if one.time >= job.round.opened and not is_among(one.by, job.sprayers)]
    conceded = said.count("concession")
    words = "released" if "release" in said else "open" if job.closed is None else "closed"
    return f"{words}, {conceded} concession{'' if conceded == 1 else 's'}" if conceded else words
