"""One random shift, judged twice: by the logger from what the instruments said, and plainly from what was so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from booth.clocks import TickClock
from booth.intake import take
from booth.logger import Logger
from booth.readers.decode import decode
from booth.readers.received import Outcome, ReadingIn
from booth.reports.judged import judge_vehicle
from booth.shop.shop import Shop, load_shop, read_files
from booth.store import Store
from booth.times import SECOND, parse_time
from booth.wiring import point_map
from simulators.any_shift import HIDDEN, any_shift
from simulators.plain.evaluate import PlainShift, truths
from simulators.plain.signals import WatchedPlant
from simulators.scenario import Scenario

CONFIG = Path(__file__).parents[2] / "config"
LOOK_EVERY_US = 120 * SECOND
AFTER_US = 300 * SECOND  # until what waits for late readings is judged as well


@dataclass(frozen=True)
class Row:
    """One requirement of one shift. `margin` is the truth's, negative where it was missed; None: papers decide, not air and clock."""

    seed: int
    requirement: str
    verdict: str
    margin: float | None
    unit: str
    uncertainty: float | None
    faults: tuple[str, ...]  # "humidity silent", of the points that it rests on, while it was judged
    sentence: str

    @property
    def kind(self) -> str:
        return self.requirement.rpartition("/")[2].removeprefix("booth:").partition(":")[0]


def guarded_shop() -> Shop:
    """The demo shop with the guarded rule (JCGM 106), k = 2."""
    files = read_files(CONFIG)
    text = files["site.toml"].replace('decision_rule = "simple"', 'decision_rule = "guarded"')
    return load_shop({**files, "site.toml": text})


def judged_shift(seed: int, shop: Shop, faults: bool = True) -> list[Row]:
    """What the logger said of each requirement, beside the truth."""
    scenario = any_shift(seed, faults)
    plant = WatchedPlant(seed, scenario)
    with Store.in_memory() as store:
        as_of = _play(plant, store, shop)
        judged = judge_vehicle(shop, store, scenario.visits[0].vehicle, as_of)
        process = judged.shop.processes[judged.job.process]
        rests_on = _points(judged, process)
    truth = truths(PlainShift(seed, scenario, plant.signals(), shop.files))
    rows = []
    for finding in judged.assessment.rounds[-1].findings:
        true = truth.get(finding.requirement)
        faulty = _faults(scenario, rests_on.get(finding.requirement, ()), finding)
        rows.append(
            Row(
                seed,
                finding.requirement,
                finding.verdict.value,
                None if true is None else true.margin,
                "" if true is None else true.unit,
                finding.uncertainty,
                faulty,
                finding.sentence,
            )
        )
    return rows


def _play(plant: WatchedPlant, store: Store, shop: Shop) -> int:
    """Everything that was sent, through intake and live judging; the moment as of which all of it is judged."""
    clock, points = TickClock(), point_map(shop)
    logger = Logger(shop, store, clock)
    next_look = 0
    for now, messages in plant.messages():
        clock.set(now)
        watch = logger.watch
        taken = take(store, _outcomes(messages, points, now), now, "mqtt")
        watch.add(taken.readings)
        if now >= next_look:
            watch.look(now)
            next_look = now + LOOK_EVERY_US
    watch.look(now + AFTER_US)
    return now + AFTER_US


def _outcomes(messages, points, now: int) -> Iterator[Outcome]:
    """As decoding gives them. Readings come in the unit used inside, so that a million of them needn't go through JSON."""
    import json

    for topic, body in messages:
        name = topic.removeprefix("shop/")
        spec = points.points.get(name)
        if spec is None:
            yield from decode(topic, json.dumps(body).encode(), now, points)
            continue
        sent = body["value"]
        value = float(spec.words.index(sent)) if spec.words else float(sent)
        yield ReadingIn(name, parse_time(body["time"]), now, str(sent), body["unit"], value, 1)


def _points(judged, process) -> dict[str, tuple[str, ...]]:
    from booth.judge.assess import cases, requirements

    return {
        one.id: tuple(judged.gatherer.points(one, case))
        for case in cases(judged.job, process, judged.job.round)
        for one in requirements(case, judged.promises)
    }


def _faults(scenario: Scenario, points: tuple[str, ...], finding) -> tuple[str, ...]:
    """Faults of the points that a finding rests on, in its own span."""
    if finding.start is None or finding.end is None:
        return ()
    first = (finding.start - scenario.midnight) / SECOND
    last = (finding.end - scenario.midnight) / SECOND
    return tuple(
        f"{one.point.partition('/')[2]} {one.kind}"
        for one in scenario.faults
        if one.point in points and one.start < last and one.end > first and one.kind not in ("doubled", "late")
    )


def is_hidden(row: Row) -> bool:
    """Whether something was wrong that no single instrument can show."""
    return any(fault.endswith(HIDDEN) for fault in row.faults)
