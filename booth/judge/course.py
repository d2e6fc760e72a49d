"""A round laid over its process: the runs in order with their kinds, and the flash-offs that lie between them.

Nobody presses a button for a flash-off: it begins when a coat ends and ends when the next coat, or the bake, begins.
"""

from __future__ import annotations

from dataclasses import replace

from booth.judge.facts import Job, Round, Run
from booth.shop.process import Process, Step


def course(job: Job, round_: Round, process: Process) -> dict[str, Run]:
    """Runs by step name, in the order of the process, with kind and booth filled in and flash-offs derived."""
    runs: dict[str, Run] = {}
    for step in process.steps:
        run = round_.run(step.step)
        if run is not None:
            run = _ended_by_the_next(run, step, round_, process)
            runs[step.step] = replace(run, kind=step.kind, booth=run.booth or _whereabouts(job, run.start))
        elif step.kind == "flash":
            flash = _flash(step, runs, round_, process)
            if flash is not None:
                runs[step.step] = flash
    return runs


def next_run(step: Step, round_: Round, process: Process) -> Run | None:
    """The run of the next coat or bake after a step, if it has begun."""
    for later in _later(step, process):
        if later.kind in ("coat", "bake"):
            return round_.run(later.step)
    return None


def _later(step: Step, process: Process) -> tuple[Step, ...]:
    names = [one.step for one in process.steps]
    return process.steps[names.index(step.step) + 1 :]


def _ended_by_the_next(run: Run, step: Step, round_: Round, process: Process) -> Run:
    """A step whose end nobody recorded was over when a later one began; that is derived, and its passes stay open."""
    if run.end is not None:
        return run
    starts = [later.start for one in _later(step, process) if (later := round_.run(one.step)) and later.start > run.start]
    return replace(run, end=min(starts), source="derived") if starts else run


def _flash(step: Step, runs: dict[str, Run], round_: Round, process: Process) -> Run | None:
    before = runs.get(step.after)
    if before is None or before.end is None:
        return None
    following = next_run(step, round_, process)
    end = max(following.start, before.end) if following is not None else None
    return Run(step.step, "flash", before.booth, before.end, end, "derived")


def _whereabouts(job: Job, us: int) -> str | None:
    """The booth that the van was in; of two loads that name it, the later one is right."""
    here = [place for place in job.places if place.start <= us and (place.end is None or us < place.end)]
    return here[-1].booth if here else None
