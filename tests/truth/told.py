"""Steps that nobody entered, as the logger inferred them, beside when the gun was really open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from booth.judge.facts import Job
from booth.times import SECOND
from simulators.scenario import Scenario
from simulators.spraying import strokes

BUTTONS = {"step-start": "start", "step-end": "end"}


@dataclass(frozen=True)
class Inferred:
    """A start or an end that somebody forgot. `error_s`: told less true; None: never told."""

    step: str
    which: str
    error_s: float | None


def inferred_steps(seed: int, job: Job, scenario: Scenario) -> Iterator[Inferred]:
    (visit,) = scenario.visits
    for coat in visit.coats:
        pulls = strokes(seed, visit, coat)
        true = {"start": min(one.start for one in pulls), "end": max(one.end for one in pulls)}
        run = job.round.run(coat.step)
        for button in coat.forgotten:
            which = BUTTONS[button]
            told = getattr(run, which) if run is not None else None
            error = None if told is None else (told - scenario.midnight) / SECOND - true[which]
            yield Inferred(coat.step, which, error)
