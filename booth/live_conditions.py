"""What is wrong now, out of the findings and the instruments of the open jobs: the conditions that alarms are made of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from booth.alarms.ailments import ailments
from booth.alarms.condition import Audience, Condition
from booth.alarms.heading import HEADED, headed, moments
from booth.alarms.silence import LOOK_BACK_US, silences, silent
from booth.alarms.watching import Where, common_of, conditions_of, may_speak
from booth.judge.facts import Check, Job
from booth.judge.finding import Verdict
from booth.judge.gather import Gatherer
from booth.judge.health.faults import OUT_OF_CALIBRATION
from booth.judge.health.spans import Interval
from booth.judge.health.spells import LASTING
from booth.judge.health.terms import terms_of
from booth.judge.ledger import Ledger
from booth.judge.remedy import remedied_by
from booth.judge.trend import SHORTEST_US, Heading, heading
from booth.live_jobs import LiveJob, LiveJobs, Seen
from booth.live_readings import LiveReadings
from booth.shop.requirement import ClimateTerms, ModeTerms
from booth.shop.shop import Shop
from booth.times import HOUR, MINUTE

HEARD_BEFORE_US = 12 * HOUR  # how far back the last word of a silent point is looked for
HEADINGS_KEPT_US = 20 * MINUTE

Needed = tuple[int, int | None, Audience]  # from when till when a point is needed, and who wants to know


class LiveConditions:
    """`shop` says when to warn; each job is judged under its own configuration."""

    def __init__(self, shop: Shop, readings: LiveReadings) -> None:
        self._shop, self._times, self._lateness = shop, shop.site.alarms, shop.site.judging.allowed_lateness
        self._readings = readings
        self.headings: dict[tuple[str, str, int, int], Heading | None] = {}
        """What was found at each moment: by vehicle, requirement, start of the step, and moment."""

    def of(self, judged: Iterable[tuple[LiveJob, list[Seen]]], jobs: LiveJobs, as_of: int) -> Iterator[Condition]:
        """Everything that is wrong with the jobs whose round is open, and with the instruments."""
        yield from _unjudged(jobs)
        open_now = [(live, findings) for live, findings in judged if live.job.round.closed is None]
        next_ = frozenset().union(*(live.next_points for live, _ in open_now))
        yield from ailments(self._faults(jobs.ledger, as_of), _needed_now([live for live, _ in open_now], as_of), next_, as_of)
        for live, findings in open_now:
            quiet: dict[str, int] = {}
            yield from self._silences(live, quiet, as_of)
            gatherer = Gatherer(live.shop, jobs.ledger, self._readings, as_of)
            for seen in findings:
                if may_speak(seen.finding) and remedy_of(seen) is None:
                    where = _where(seen, live.job, quiet, as_of)
                    yield from conditions_of(seen.finding, where, as_of, self._times.warn_before + self._times.on_delay)
                    yield from self._headed(live, seen, where, gatherer, as_of)

    def _faults(self, ledger: Ledger, as_of: int) -> Iterator[Interval]:
        """Those that last or ended lately, of the points that the configuration has now."""
        for name in ledger.watched_points:
            booth, _, point_id = name.partition("/")
            room = self._shop.booths.get(booth)
            point = room.points.get(point_id) if room else None
            if point is not None:
                for one in ledger.doubts(name, as_of - LOOK_BACK_US - 1, LASTING):
                    if point.instrument.calibrated or one.fault != OUT_OF_CALIBRATION:
                        yield one

    def _silences(self, live: LiveJob, quiet: dict[str, int], as_of: int) -> Iterator[Condition]:
        """Points that should speak and don't, and those that fell silent lately. `quiet` gets those that say nothing now."""
        for name, spans in _needed(live, as_of).items():
            booth, point = name.split("/")
            max_age = live.shop.booths[booth].points[point].max_age
            times = self._readings.evidence(name, as_of - LOOK_BACK_US, as_of + 1, LOOK_BACK_US).times
            if not len(times) or times[0] > as_of - LOOK_BACK_US:  # seldom: so much of every point isn't kept in memory for it
                times = self._readings.evidence(name, as_of - LOOK_BACK_US, as_of + 1, HEARD_BEFORE_US).times
            if len(times) and times[-1] + max_age <= as_of:
                quiet[name] = int(times[-1]) + max_age
            pause = terms_of(live.shop, booth, point).stale_us
            if len(times) > 1 and as_of - times[-1] <= pause and (times[1:] - times[:-1]).max() <= pause:
                continue
            for start, end, audience in spans:
                for since, until in silences(times, pause, start, end, as_of):
                    yield silent(booth, point, since, until, audience)

    def _headed(self, live: LiveJob, seen: Seen, where: Where, gatherer: Gatherer, as_of: int) -> Iterator[Condition]:
        """Warnings of a measure that is on its way out; told when late readings have had their time."""
        case, terms = seen.case, seen.requirement.terms
        if seen.finding.kind not in HEADED or not isinstance(terms, ClimateTerms) or case.run is None:
            return
        last = as_of - self._lateness if case.end is None else min(as_of - self._lateness, case.end)
        if seen.finding.verdict is Verdict.MISSED or as_of - last > HEADINGS_KEPT_US:
            return
        told = []
        for moment in moments(case.run.start + SHORTEST_US, last):
            key = (live.job.vehicle, seen.requirement.id, case.run.start, moment)
            if key not in self.headings:
                evidence = gatherer.evidence(seen.requirement, case)
                self.headings[key] = heading(terms.limit, evidence, terms.modes, moment, self._times.horizon)
            told.append((moment, self.headings[key]))
        yield from headed(told, terms.limit.measure, common_of(seen.finding, where), case.end)
        if len(self.headings) > 1000:
            self.headings = {key: found for key, found in self.headings.items() if as_of - key[-1] < HEADINGS_KEPT_US}


def remedy_of(seen: Seen) -> Check | None:
    """The check that the process accepts as the way out of this miss, once it has passed."""
    return remedied_by(seen.finding, seen.case.process, seen.case.round)


def _needed(live: LiveJob, as_of: int) -> dict[str, list[Needed]]:
    """Points that running steps rest on, and the instruments that tell what nobody enters."""
    found: dict[str, list[Needed]] = defaultdict(list)
    for laid in live.steps:
        run, end = laid.case.run, laid.case.end
        if run is not None and (end is None or as_of - end < LOOK_BACK_US):
            for name in laid.all_points:
                found[name].append((run.start, end, "painter"))
    for place in live.job.places:
        booth = live.shop.booths.get(place.booth)
        here = place.start <= as_of and (place.end is None or as_of < place.end)
        if here and booth is not None and booth.mode_point is not None:
            for name in (booth.mode_point, *booth.measuring("gun_flow")):
                found[f"{place.booth}/{name}"].append((place.start, place.end, "maintenance"))
    return found


def _needed_now(lives: list[LiveJob], as_of: int) -> set[str]:
    """Points that an open job needs in the step that it is in."""
    return {
        name
        for live in lives
        for name, spans in _needed(live, as_of).items()
        if any(start <= as_of and (end is None or as_of < end) for start, end, _ in spans)
    }


def _where(seen: Seen, job: Job, quiet: Mapping[str, int], as_of: int) -> Where:
    case, requirement = seen.case, seen.requirement
    grace = requirement.terms.grace_us if isinstance(requirement.terms, ClimateTerms | ModeTerms) else 0
    booth = case.run.booth if case.run and case.run.booth else whereabouts(job, as_of)
    ended = [quiet[name] for name in seen.points if name in quiet]
    what_to_do = requirement.what_to_do or ""
    return Where(booth, job.vehicle, job.round.number, grace, what_to_do, min(ended, default=None))


def whereabouts(job: Job, as_of: int) -> str:
    """The booth that the van is in, or was in last; where nobody ever said, the shop."""
    here = [place.booth for place in job.places if place.start <= as_of and (place.end is None or as_of < place.end)]
    known = here or [place.booth for place in job.places] or [run.booth for run in job.round.runs if run.booth]
    return known[-1] if known else "shop"


def _unjudged(jobs: LiveJobs) -> Iterator[Condition]:
    """Jobs and requirements that nobody judges now: never in silence."""
    for job, why in jobs.unreadable.values():
        yield _fault(job, f"{job.vehicle}/unreadable", "job", f"{job.vehicle} is not judged: {why}", job.opened)
    for live, seen in jobs.faults.values():
        sentence = f"{seen.requirement.id} of {live.job.vehicle} is not judged: a fault in the logger; see its log"
        since = seen.case.run.start if seen.case.run else live.job.opened
        identity = f"{live.job.vehicle}/{live.job.round.number}/{seen.requirement.id}/fault"
        yield _fault(live.job, identity, seen.requirement.id, sentence, since)


def _fault(job: Job, identity: str, requirement: str, sentence: str, since: int) -> Condition:
    return Condition(
        id=identity,
        booth=whereabouts(job, since),
        requirement=requirement,
        priority="warning",
        sentence=sentence,
        since=since,
        vehicle=job.vehicle,
        what_to_do="Tell whoever looks after the logger; the readings are kept.",
        audience="maintenance",
    )
