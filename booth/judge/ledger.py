"""The journal as an index that answers with jobs, loads, mixes and calibrations.

State is never stored: it is always a fold over the entries (booth.judge.fold). Facts count by their effective time, so the order
in which they were recorded doesn't matter, but between two of the very same moment. Corrections change facts before the fold;
`not-a-coat` takes an entry out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any, TypeVar

from booth.judge.facts import Calibration, Entry, Fact, Job, Mix, Place, Saying
from booth.judge.fold import rounds_of
from booth.judge.health.calibration import calibration_intervals
from booth.judge.health.entries import read_interval
from booth.judge.health.spans import Interval
from booth.judge.health.spells import LASTING, Spells
from booth.judge.no_coats import NoCoats, as_they_stand
from booth.times import parse_time

SAYINGS = {"note": None, "concession": "requirement", "release": None}

Answer = TypeVar("Answer")


class Ledger:
    """An index over the journal; feed it every entry once."""

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self._about: dict[str, Entry] = {}  # every entry about a vehicle, by id
        self._by_vehicle: dict[str, dict[str, Entry]] = defaultdict(dict)
        self._loads: dict[str, list[Entry]] = defaultdict(list)
        self._mixes: list[Entry] = []
        self._calibrations: list[Entry] = []
        self._health: dict[str, list[Entry]] = defaultdict(list)  # by point
        self._configs: list[Entry] = []
        self._corrections: dict[str, list[Entry]] = defaultdict(list)  # by the id of what they correct
        self._no_coats = NoCoats()
        self._faults: dict[str, dict[tuple[str, int], Interval]] = defaultdict(dict)  # by point: what its entries come to
        self._answers: dict[tuple, Any] = {}  # until the next entry changes them
        self._of_points: dict[str, dict[tuple, Any]] = defaultdict(dict)  # the same about a point's health
        for entry in entries:
            self.add(entry)

    def add(self, entry: Entry) -> None:
        self._answers.clear()
        if entry.kind in ("calibration", "correction"):
            self._of_points.clear()
        corrected = entry.body.get("corrects")
        lists = {"config": self._configs, "mix": self._mixes, "calibration": self._calibrations}
        if entry.kind in lists:
            lists[entry.kind].append(entry)
        elif entry.kind == "health":
            point = entry.body["point"]
            self._health[point].append(entry)
            _fold_fault(self._faults[point], entry)
            self._of_points.pop(point, None)
        elif entry.kind == "load":
            self._loads[entry.body.get("booth", "")].append(entry)
        elif entry.kind == "not-a-coat":
            self._no_coats.add(entry)
        elif entry.kind == "correction":
            self._corrections[corrected].append(entry)
            if corrected in self._about:
                self._index(self._about[corrected])
        elif entry.body.get("vehicle"):
            self._about[entry.id] = entry
            self._index(entry)

    def copy(self) -> Ledger:
        """As it stands now, answers and all, for a thread that judges while another goes on feeding this one."""
        twin = Ledger()
        for name, kept in vars(self).items():
            vars(twin)[name] = _copied(kept, _copied)
        return twin

    def _index(self, entry: Entry) -> None:
        """Under the vehicle it names, and under any that a correction names instead; `_facts_about` sorts out which is right."""
        named = [entry.body, *(correction.body["set"] for correction in self._corrections.get(entry.id, ()))]
        for body in named:
            if "vehicle" in body:
                self._by_vehicle[body["vehicle"]][entry.id] = entry

    @property
    def vehicles(self) -> list[str]:
        """Every vehicle that a job was ever opened for, in the order of opening."""
        opened = {name: job.opened for name in self._by_vehicle if (job := self.job(name)) is not None}
        return sorted(opened, key=lambda name: (opened[name], name))

    def loaded(self, booth: str) -> list[dict[str, Any]]:
        """The vans now in a booth, as its latest load says."""
        facts = self.loads_of(booth)
        return list(facts[-1].body["vans"]) if facts else []

    def mix(self, name: str | None, used: int | None = None) -> Mix | None:
        """The latest mix of this name, or the latest one mixed before it was used: names come again after a while.

        A mix that was entered as mixed after its use is better than none: the judge says what is wrong with it.
        """
        own = self._kept(("mix", name), lambda: [_mix(fact) for fact in self._facts(self._mixes) if fact.body["mix"] == name])
        before = [mix for mix in own if used is None or mix.time <= used]
        return before[-1] if before else own[0] if own else None

    def calibrations(self, point: str, known_by: int | None = None) -> list[Calibration]:
        """What is known of a point's calibrations, oldest first; with `known_by`, as far as it was recorded by then."""
        known = self._kept(("calibrations", known_by), lambda: self._calibrations_by(known_by))
        return known.get(point, [])

    def _calibrations_by(self, known_by: int | None) -> dict[str, list[Calibration]]:
        found: dict[str, list[Calibration]] = defaultdict(list)
        for fact in self._facts(_recorded_by(self._calibrations, known_by)):
            one = _calibration(fact)
            found[one.point].append(one)
        return found

    def health(self, point: str, known_by: int | None = None) -> tuple[Interval, ...]:
        """Every fault that the readings of a point ever showed, by time, those too that were withdrawn again."""
        return self._shown(point, known_by).all

    def health_since(self, point: str, us: int) -> list[Interval]:
        """The same without those that were over by a moment."""
        return self._shown(point, None).touching(us, LASTING)

    def unhealthy(self, point: str, known_by: int | None = None) -> tuple[Interval, ...]:
        """When a point could not be believed, by time: what its readings showed, and what its calibrations say."""
        return self._doubts(point, known_by).all

    def doubts(self, point: str, start: int, end: int, known_by: int | None = None) -> list[Interval]:
        """The same, those only that touch [start, end)."""
        return self._doubts(point, known_by).touching(start, end)

    def _shown(self, point: str, known_by: int | None) -> Spells:
        def fold() -> Spells:
            if known_by is None:
                found = self._faults.get(point, {})
            else:
                found = {}
                for entry in _recorded_by(self._health.get(point, ()), known_by):
                    _fold_fault(found, entry)
            return Spells(sorted(found.values(), key=lambda one: (one.start, one.fault)))

        return self._kept_of(point, ("shown", known_by), fold)

    def _doubts(self, point: str, known_by: int | None) -> Spells:
        def both() -> Spells:
            shown = [one for one in self.health(point, known_by) if not one.withdrawn]
            shown += calibration_intervals(self.calibrations(point, known_by))
            return Spells(sorted(shown, key=lambda one: (one.start, one.fault)))

        return self._kept_of(point, ("doubts", known_by), both)

    @property
    def watched_points(self) -> list[str]:
        """Points that the journal has faults or calibrations of."""
        return self._kept(("watched",), lambda: sorted({*self._health, *self._calibrations_by(None)}))

    def knows(self, entry_id: str) -> bool:
        """Whether an entry about a vehicle with this id is in the journal."""
        return entry_id in self._about

    def no_coats(self, booth: str, start: int, end: int) -> list[tuple[int, int]]:
        """When what the guns of a booth did was no coat, as far as it touches a span of time."""
        return self._no_coats.spans(booth, start, end)

    def written_coats(self, vehicle: str) -> dict[int, str | None]:
        """What became of the coats that the journal has from the guns (booth.judge.no_coats)."""
        told = self._by_vehicle.get(vehicle, {}).values()
        return self._kept(("written", vehicle), lambda: as_they_stand(self._facts(told), vehicle))

    def job(self, vehicle: str, told: Iterable[Entry] = ()) -> Job | None:
        """The vehicle's job as far as the journal knows it; None when none was opened.

        `told` is what the instruments tell beyond the journal, too young to be written down.
        """
        told = tuple(told)
        if told:
            return self._fold(vehicle, told)
        return self._kept(("job", vehicle), lambda: self._fold(vehicle, ()))

    def _fold(self, vehicle: str, told: tuple[Entry, ...]) -> Job | None:
        facts = self._facts([*self._by_vehicle.get(vehicle, {}).values(), *told])
        facts = [fact for fact in facts if fact.body["vehicle"] == vehicle]
        opening = next((fact for fact in facts if fact.entry.kind == "job-open"), None)
        if opening is None:
            return None
        rounds = rounds_of(facts, opening.time)
        places = self._kept(("places", vehicle), lambda: tuple(self._places(vehicle)))
        return Job(
            vehicle,
            opening.body["process"],
            self._config_at(opening.time),
            opening.time,
            rounds[-1].closed,
            tuple(rounds),
            places,
            tuple(self._sayings(vehicle, facts)),
        )

    def _facts(self, entries: Iterable[Entry]) -> list[Fact]:
        """Entries with their corrections, in order of time; what is voided says so."""
        facts = []
        for entry in entries:
            corrections = sorted(self._corrections.get(entry.id, ()), key=lambda one: (one.effective, one.seq))
            facts.append(Fact(entry, [one.body["set"] for one in corrections], self._no_coats.voiding(entry) is not None))
        return sorted(facts, key=lambda fact: (fact.time, fact.entry.seq))

    def loads_of(self, booth: str) -> list[Fact]:
        return self._kept(("loads", booth), lambda: self._facts(self._loads.get(booth, [])))

    def _config_at(self, us: int) -> str | None:
        """Hash of the configuration in force at a moment; before the first one was written down, that one."""
        configs = sorted(self._configs, key=lambda one: (one.effective, one.seq))
        before = [one for one in configs if one.effective <= us]
        chosen = before[-1:] or configs[:1]
        return chosen[0].body["sha256"] if chosen else None

    def _places(self, vehicle: str) -> list[Place]:
        places = []
        for booth in self._loads:
            facts = self.loads_of(booth)
            for fact, following in zip(facts, [*facts[1:], None], strict=True):
                for van in fact.body["vans"]:
                    if van["vehicle"] == vehicle:
                        end = following.time if following else None
                        alone = len(fact.body["vans"]) == 1
                        places.append(Place(booth, fact.time, end, tuple(van.get("guns", ())), van.get("probes", {}), alone))
        return sorted(places, key=lambda place: (place.start, place.booth))

    def _sayings(self, vehicle: str, facts: list[Fact]) -> Iterator[Saying]:
        for fact in facts:
            kind = fact.entry.kind
            if kind in SAYINGS:
                text = fact.entry.private.get("text" if kind == "note" else "reason")
                yield Saying(kind, fact.time, fact.by, text, fact.body.get(SAYINGS[kind] or ""))
        concerned = [*(fact.entry for fact in facts), *self._beside(vehicle, facts)]
        said = [(one, entry.id) for entry in concerned for one in self._corrections.get(entry.id, ())]
        said += [(why, fact.entry.id) for fact in facts if (why := self._no_coats.voiding(fact.entry)) is not None]
        for entry, corrected in sorted(said, key=lambda one: (one[0].effective, one[0].seq)):
            by, reason = entry.private.get("by"), entry.private.get("reason")
            change = entry.body.get("set", {"not_a_coat": True})
            yield Saying("correction", entry.effective, by, reason, corrected, change)

    def _beside(self, vehicle: str, facts: list[Fact]) -> Iterator[Entry]:
        """Entries that name no vehicle and yet tell of this one: its mixes and its loads."""
        mixes = {fact.body["mix"] for fact in facts if fact.body.get("mix")}
        yield from (entry for entry in self._mixes if entry.body["mix"] in mixes)
        for entries in self._loads.values():
            for entry in entries:
                told = [entry.body, *(one.body["set"] for one in self._corrections.get(entry.id, ()))]
                if any(van["vehicle"] == vehicle for body in told for van in body.get("vans") or ()):
                    yield entry

    def _kept(self, key: tuple, work_out: Callable[[], Answer]) -> Answer:
        """An answer that is asked for many times a second and changes only with the journal."""
        if key not in self._answers:
            self._answers[key] = work_out()
        return self._answers[key]

    def _kept_of(self, point: str, key: tuple, work_out: Callable[[], Answer]) -> Answer:
        """About a point's health, which years of entries about others don't change."""
        known = self._of_points[point]
        if key not in known:
            known[key] = work_out()
        return known[key]


def _fold_fault(found: dict[tuple[str, int], Interval], entry: Entry) -> None:
    one = read_interval(entry.body)
    before = found.get((one.fault, one.start))
    found[one.fault, one.start] = replace(one, entries=before.entries + 1) if before else one


def _copied(kept: Any, within: Callable[[Any], Any] = lambda one: one) -> Any:
    """A dict or list anew, and those in it; whatever else there is never changes."""
    if isinstance(kept, (list, NoCoats)):
        return kept.copy()
    if not isinstance(kept, dict):
        return kept
    new = kept.copy()  # of its own kind, with what it makes of a missing key
    new.update((key, within(one)) for key, one in kept.items())
    return new


def _recorded_by(entries: Iterable[Entry], known_by: int | None) -> list[Entry]:
    return [entry for entry in entries if known_by is None or entry.recorded <= known_by]


def _mix(fact: Fact) -> Mix:
    body = fact.body
    return Mix(body["mix"], body["coating"], fact.time, fact.by, body.get("booth"), body.get("pot"), dict(body.get("lots", {})))


def _calibration(fact: Fact) -> Calibration:
    body = fact.body
    point = f"{body.get('booth')}/{body['point']}"
    until = parse_time(body["valid_until"])
    return Calibration(point, fact.time, body["result"], until, body.get("as_found"), body.get("as_left"))
