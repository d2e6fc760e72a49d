"""Which coat a spell of spraying was: by the coats that people entered, and by those that were told of before.

What was told once keeps its name: it stands in the journal, and only people change it, by `not-a-coat` or a correction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from booth.judge.facts import Job, Run
from booth.judge.infer import Stretch, Told
from booth.judge.same_work import is_slip, same_work, shared_us
from booth.shop.process import Process

Written = Mapping[int, str | None]
"""What became of the coats that the journal has from the guns: their first moment -> the step, None where it was no coat."""


def told_by_guns(
    job: Job,
    process: Process,
    booth: str,
    bursts: Sequence[Stretch],
    moved_on: int | None,
    written: Written | None = None,
    doubtful: int | None = None,
    among_others: Sequence[Stretch] = (),
) -> list[Told]:
    """Coats that nobody entered, or whose end nobody entered, of the one van in the booth.

    `moved_on` is the latest moment at which the booth left spraying for another step; only then, or when somebody has entered the
    next coat, has a forgotten end come. From `doubtful` on nobody knows which coats it has had, so a new one gets no name.
    `among_others`: spells begun with another van beside it. They are never told, but an open coat may have begun in one.
    """
    told, written = [], _of_its_round(job, written or {})
    entered = entered_coats(job, process)
    done = _done(entered, written)
    unended: dict[str, list[Stretch]] = {}
    begun = [one for one in _begun_in(entered, [*bursts, *among_others]) if one in among_others]
    for burst in sorted([*bursts, *begun], key=lambda one: one.start):
        match = explains(entered, burst)
        if match is not None and match.end is None and match.step in unended and burst.start in written:
            match = None  # the open coat has had its own spell, and this one was told of before
        if match is not None and is_slip(match.start, match.end) and written.get(burst.start, match.step) != match.step:
            match = None
        if match is None and burst not in begun:
            known = doubtful is None or burst.start < doubtful
            step = next_coat(process, burst, entered, done, written) if known else None
            step = written.get(burst.start, step)
            if step is not None:
                told.append(Told(job.vehicle, step, booth, burst.start, burst.end, "inferred"))
                done.add(step)
        elif match is not None and match.end is None and burst.end is not None and _is_over(burst.end, entered, moved_on):
            unended.setdefault(match.step, []).append(burst)
    for step, own in unended.items():
        coats = [step, *_left_out(process, step, done)][: len(own)]
        # The last ones are the coats that nobody entered; a coat with a long break in it has the first ones.
        whose = [step] * (len(own) - len(coats)) + coats
        told += [Told(job.vehicle, one, booth, burst.start, burst.end, "inferred") for one, burst in zip(whose, own, strict=True)]
    return [one for one in told if all(one.start != burst.start for burst in begun)]


def _begun_in(entered: Sequence[Run], spells: Sequence[Stretch]) -> list[Stretch]:
    """The spells in which coats began whose end nobody entered."""
    starts, spells = [run.start for run in entered if run.end is None], sorted(spells, key=lambda one: one.start)
    found = [next((one for one in spells if (one.end or one.so_far or one.start) > start), None) for start in starts]
    return [one for one in dict.fromkeys(found) if one is not None]


def entered_coats(job: Job, process: Process) -> list[Run]:
    """Coats that somebody entered anything of, in order; the instruments may have told the rest of them."""
    coats = {step.step for step in process.coats()}
    return [run for run in job.round.runs if run.step in coats and (run.source == "entered" or run.hands)]


def coat_of(job: Job, process: Process, burst: Stretch, written: Written) -> str | None:
    """The coat that a spell would be if it were this van's; None where no coat is left for it."""
    entered, written = entered_coats(job, process), _of_its_round(job, written)
    return next_coat(process, burst, entered, _done(entered, written), written)


def _of_its_round(job: Job, written: Written) -> Written:
    """A van that is done once more gets its coats once more."""
    first = job.round.opened if job.round.number > 1 else 0
    return {start: step for start, step in written.items() if start >= first}


def _done(entered: Sequence[Run], written: Written) -> set[str]:
    return {run.step for run in entered} | {step for step in written.values() if step is not None}


def next_coat(process: Process, burst: Stretch, entered: Sequence[Run], done: set[str], written: Written) -> str | None:
    """The first coat not done yet between those begun before and after the burst; None where it can't be told which it was."""
    names = [step.step for step in process.coats()]
    begun = [(run.start, run.step) for run in entered] + [(start, step) for start, step in written.items() if step in names]
    before = [names.index(step) for start, step in begun if start <= burst.start]
    after = [names.index(step) for start, step in begun if start > burst.start]
    for index, name in enumerate(names):
        if name not in done and index > max(before, default=-1) and index < min(after, default=len(names)):
            return name
    return None


def explains(entered: Sequence[Run], burst: Stretch) -> Run | None:
    """The entered coat that a burst belongs to: of those that are the same work the one that shares most with it.

    An open one reaches to the next one's start.
    """
    last = burst.end or burst.so_far or burst.start + 1
    found: list[tuple[int, int, Run]] = []
    for index, run in enumerate(entered):
        reach = run.end if run.end is not None else entered[index + 1].start if index + 1 < len(entered) else None
        if same_work(run.start, reach, burst.start, last):
            found.append((shared_us(run.start, reach, burst.start, last), index, run))
    return max(found)[2] if found else None


def _left_out(process: Process, step: str, done: set[str]) -> list[str]:
    """The coats right after this one that nobody entered: what was sprayed between it and the next entered one was theirs."""
    names = [one.step for one in process.coats()]
    following = names[names.index(step) + 1 :]
    entered = [index for index, name in enumerate(following) if name in done]
    return following[: min(entered, default=len(following))]


def _is_over(end: int, entered: Sequence[Run], moved_on: int | None) -> bool:
    return (moved_on is not None and moved_on >= end) or any(run.start >= end for run in entered)
