"""One random shift, judged twice: by the logger from what the instruments said, and plainly from what was so."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from booth.judge.assess import cases, requirements
from booth.judge.finding import Finding
from booth.judge.gather import Case
from booth.reports.judged import Judged, judge_vehicle
from booth.shop.requirement import FlashTerms, PeakTerms, Requirement
from booth.shop.shop import Shop, load_shop, read_files
from booth.store import Store
from booth.times import HOUR, SECOND
from simulators.any_shift import HARMLESS, any_shift, restarts
from simulators.plain.evaluate import truths
from simulators.plain.signals import WatchedPlant
from simulators.plain.truth import PlainShift, Truth
from simulators.scenario import Scenario
from tests.truth.alarms import Raised, raised_alarms
from tests.truth.forecasts import Foretold, Lead, Seer, leads
from tests.truth.ills import Ill, ills_of
from tests.truth.play import Keep, Played, QuickKeep, Tick
from tests.truth.told import Inferred, inferred_steps

CONFIG = Path(__file__).parents[2] / "config"
BEFORE_S = 60  # an instrument may show a miss a little before it is one
GAPS_AT_WORST = ("flash_minimum", "flash_maximum", "pot_life", "purge_volumes", "heat_up", "dwell", "over_bake", "cool_below")
Script = Callable[[int, bool], Scenario]
"""The shift of a seed, with faults of instruments or without: simulators.any_shift has two, under invented air and under real."""

WATCHED_S = (-480, -420, -360, -330, -315, -300, -285, -240, -180, *range(0, 31, 5), 40, 60, 120, 300)
"""Before and after a true miss somebody looks, to see when the warning and the alarm come. (The logger looks twice a second.)"""


@dataclass(frozen=True)
class Row:
    """One requirement of one shift.

    `margin` is the truth's, negative where it was missed; None: papers decide, not air and clock. `ills`: what was wrong with the
    instruments that it rests on. `pressed`: nobody forgot a button of the steps that it is about.
    """

    seed: int
    requirement: str
    verdict: str
    margin: float | None
    unit: str
    uncertainty: float | None
    probability: float | None
    ills: tuple[Ill, ...]
    pressed: bool
    sentence: str

    @property
    def kind(self) -> str:
        return self.requirement.rpartition("/")[2].removeprefix("booth:").partition(":")[0]

    @property
    def hidden(self) -> bool:
        """Whether something was wrong that no single instrument can show, or that this shop doesn't look for."""
        return any(ill.seen_within_s is None for ill in self.ills)

    @property
    def gaps_at_worst(self) -> bool:
        """Whether the rule takes what wasn't measured, or wasn't believed, at its worst: a gap can't hide a miss."""
        return self.kind in GAPS_AT_WORST

    @property
    def wrong(self) -> bool:
        return self.margin is not None and self.verdict == ("missed" if self.margin >= 0 else "met")

    @property
    def truth(self) -> str:
        """In four classes."""
        word = "met" if self.margin >= 0 else "missed"
        return f"{word} by more than U" if abs(self.margin) > (self.uncertainty or 0.0) else f"{word} within U"


@dataclass(frozen=True)
class Delay:
    """Seconds from a true miss to the alarm that says so.

    A guarded rule speaks when a reading is beyond the limit by U, and an instrument inside its calibration may be off by U the
    other way: only where the truth is beyond it by 2 U must there be an alarm. None: it never was. Infinite: no alarm came.
    """

    requirement: str
    verdict: str
    since_missed_s: float | None
    since_u_s: float | None
    since_2u_s: float | None


@dataclass(frozen=True)
class Shift:
    """What came of one seed. `sound`: no instrument had anything; `good`: and every limit was clearly kept."""

    seed: int
    hours: float
    rows: tuple[Row, ...]
    inferred: tuple[Inferred, ...]
    raised: tuple[Raised, ...]
    delays: tuple[Delay, ...]
    sound: bool
    foretold: tuple[Foretold, ...]
    leads: tuple[Lead, ...]

    @property
    def good(self) -> bool:
        known = [row for row in self.rows if row.margin is not None]
        return self.sound and all(row.pressed and row.truth == "met by more than U" for row in known)


def guarded_shop() -> Shop:
    """The demo shop with the guarded rule (JCGM 106), k = 2."""
    files = read_files(CONFIG)
    text = files["site.toml"].replace('decision_rule = "simple"', 'decision_rule = "guarded"')
    return load_shop({**files, "site.toml": text})


def quick_store() -> Store:
    """In memory, and without the hashes over the evidence, which nobody reads here and which cost a sixth of the time."""
    store = Store.in_memory()
    store.readings.evidence_sha256 = lambda *_arguments, **_named: ""
    return store


def judged_shift(
    seed: int,
    shop: Shop,
    faults: bool = True,
    keep: Callable[..., Keep] = QuickKeep,
    open_store: Callable[[], Store] = quick_store,
    script: Script = any_shift,
) -> Shift:
    """What the logger said of each requirement, beside the truth."""
    scenario, ticks, plain = _simulated(seed, shop, faults, script)
    truth, seer = truths(plain), Seer()
    again = [_moment(scenario, one) for one in restarts(seed, scenario)]
    with open_store() as store:
        played = Played(shop, store, _looks(scenario, truth), again, seer.look)
        as_of = played.run(ticks, _keeper(keep, shop, store, scenario))
        judged = judge_vehicle(shop, store, scenario.visits[0].vehicle, as_of)
        rows = tuple(_rows(seed, judged, scenario, truth))
        raised = tuple(one for one in raised_alarms(store, scenario.midnight) if one.at_s <= scenario.end)
    delays = tuple(_delays(rows, truth, raised))
    inferred = tuple(inferred_steps(seed, judged.job, scenario))
    sound = scenario.visits[0].said_probes is None and all(fault.kind in HARMLESS for fault in scenario.faults)
    hours = (scenario.end - scenario.start) * SECOND / HOUR
    ill = {row.requirement for row in rows if row.ills}
    foretold = tuple(one for one in seer.foretold(plain) if one.requirement not in ill)
    clear = {row.requirement: truth[row.requirement] for row in rows if row.margin is not None and row.pressed and not row.ills}
    return Shift(seed, hours, rows, inferred, raised, delays, sound, foretold, tuple(leads(plain, clear, raised)))


def rows_of(seed: int, shop: Shop, store: Store, scenario: Scenario, truth: dict[str, Truth], as_of: int) -> tuple[Row, ...]:
    """The findings on a shift that is in a store."""
    return tuple(_rows(seed, judge_vehicle(shop, store, scenario.visits[0].vehicle, as_of), scenario, truth))


def simulated(
    seed: int, shop: Shop, faults: bool = True, script: Script = any_shift
) -> tuple[Scenario, list[Tick], dict[str, Truth]]:
    """What was sent, and what was so."""
    scenario, ticks, plain = _simulated(seed, shop, faults, script)
    return scenario, ticks, truths(plain)


def _simulated(seed: int, shop: Shop, faults: bool, script: Script) -> tuple[Scenario, list[Tick], PlainShift]:
    scenario = script(seed, faults)
    plant = WatchedPlant(seed, scenario)
    ticks = list(plant.messages())
    return scenario, ticks, PlainShift(seed, scenario, plant.signals(), shop.files)


def _keeper(keep: Callable[..., Keep], shop: Shop, store: Store, scenario: Scenario) -> Keep:
    if keep is not QuickKeep:
        return keep(shop, store)
    return QuickKeep(shop, store, {fault.point for fault in scenario.faults if fault.kind in ("doubled", "clock")})


def _moment(scenario: Scenario, second: float) -> int:
    return scenario.midnight + round(second * SECOND)


def _looks(scenario: Scenario, truth: dict[str, Truth]) -> Iterator[int]:
    for one in truth.values():
        missed = one.moment(0.0)
        if missed is not None:
            yield from (_moment(scenario, missed - missed % 5 + after) for after in WATCHED_S)


def _rows(seed: int, judged: Judged, scenario: Scenario, truth: dict[str, Truth]) -> Iterator[Row]:
    asked = _asked(judged)
    forgotten = _forgotten(scenario)
    if unsaid := truth.keys() - {finding.requirement for finding in judged.assessment.rounds[-1].findings}:
        raise RuntimeError(f"seed {seed}: the logger said nothing of {', '.join(sorted(unsaid))}, whose truth is known")
    for finding in judged.assessment.rounds[-1].findings:
        true = truth.get(finding.requirement)
        yield Row(
            seed,
            finding.requirement,
            finding.verdict.value,
            None if true is None else true.margin,
            "" if true is None else true.unit,
            finding.uncertainty,
            getattr(finding, "probability", None),
            tuple(_ills(judged, scenario, finding, *asked[finding.requirement])),
            finding.step not in forgotten,
            finding.sentence,
        )


def _asked(judged: Judged) -> dict[str, tuple[Requirement, Case]]:
    process = judged.shop.processes[judged.job.process]
    return {
        one.id: (one, case)
        for case in cases(judged.job, process, judged.job.round)
        for one in requirements(case, judged.promises)
    }


def _ills(judged: Judged, scenario: Scenario, finding: Finding, requirement: Requirement, case: Case) -> Iterator[Ill]:
    stretch = judged.gatherer.stretch(requirement, case)
    if stretch is None:
        return
    first, last = ((one - scenario.midnight) / SECOND for one in stretch)
    points = _deciding(judged.gatherer.points(requirement, case), requirement, scenario)
    yield from ills_of(judged.shop, scenario, points, first, last)


def _deciding(points: list[str], requirement: Requirement, scenario: Scenario) -> list[str]:
    """Those of the points that can change the verdict; the others are told beside it."""
    terms, visit = requirement.terms, scenario.visits[0]
    if isinstance(terms, FlashTerms) and terms.out_of_limits == "go_on" and terms.pace.is_fixed:
        return []  # the clock alone
    if isinstance(terms, PeakTerms):
        substrates = {zone.name: zone.substrate for zone in visit.body.zones}
        said = visit.said_probes or visit.body.probes
        return [one for one in points if substrates[said[one.partition("/")[2]]] == terms.substrate]
    return points


def _forgotten(scenario: Scenario) -> set[str]:
    """Steps about which somebody forgot to press a button: the coat, and what lies beside it."""
    visit, found = scenario.visits[0], set()
    names = [coat.step for coat in visit.coats]
    for index, coat in enumerate(visit.coats):
        if coat.forgotten:
            found |= {coat.step, _flash_after(coat.step), *(_flash_after(name) for name in names[max(0, index - 1) : index])}
            if index == len(names) - 1:
                found |= {"purge", "bake"}
    return found


def _flash_after(step: str) -> str:
    return f"{step.removesuffix('-1')}-flash"


def _delays(rows: tuple[Row, ...], truth: dict[str, Truth], raised: tuple[Raised, ...]) -> Iterator[Delay]:
    """Of each true miss, whatever was said of it. An alarm from long before is about something else."""
    for row in rows:
        true = truth.get(row.requirement)
        first = None if true is None or row.ills or not row.pressed else true.moment(0.0)
        if first is not None:
            told = [one.told_s for one in raised if one.requirement == row.requirement and one.priority == "alarm"]
            came = min((one for one in told if one >= first - BEFORE_S), default=math.inf)
            moments = (true.moment(share * (row.uncertainty or 0.0)) for share in (0, 1, 2))
            yield Delay(row.requirement, row.verdict, *(None if one is None else came - one for one in moments))


def judged_spans(seed: int, shop: Shop, script: Script = any_shift) -> dict[str, tuple[int, int, float | None, float | None]]:
    """Of each finding its stretch, in seconds after midnight, and its limits; for a picture."""
    scenario, ticks, _ = simulated(seed, shop, script=script)
    with Store.in_memory() as store:
        as_of = Played(shop, store).run(ticks, _keeper(QuickKeep, shop, store, scenario))
        judged = judge_vehicle(shop, store, scenario.visits[0].vehicle, as_of)
    findings = [one for one in judged.assessment.rounds[-1].findings if one.start is not None]
    return {
        one.requirement: (*(round((at - scenario.midnight) / SECOND) for at in (one.start, one.end)), one.low, one.high)
        for one in findings
    }
