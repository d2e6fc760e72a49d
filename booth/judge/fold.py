"""Facts about one vehicle folded into rounds of runs: who did what from when to when, as far as anybody or anything told.

Where people and instruments tell of the same pass, people are believed; what people left out, the instruments fill in, and the
run says so. The weakest source of any of its passes is the source of the run.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from booth.judge.facts import Check, Fact, Film, Pass, Round, Run
from booth.judge.no_coats import BY_HEAT
from booth.judge.same_work import is_slip, same_work

WEAKEST_FIRST = ("inferred", "signalled", "entered")


def rounds_of(facts: list[Fact], opened: int) -> list[Round]:
    """Facts in order of time cut at each reopening. A round is closed by job-close, or by the next round.

    What was recorded before the job was opened belongs to the first round: vans are washed before anybody opens a job.
    """
    standing = [fact for fact in facts if not fact.void]
    reopenings = [fact for fact in standing if fact.entry.kind == "reopen" and fact.time > opened]
    starts = [opened, *(fact.time for fact in reopenings)]
    reasons = [None, *(fact.entry.private.get("reason") for fact in reopenings)]
    rounds = []
    for index, start in enumerate(starts):
        until = starts[index + 1] if index + 1 < len(starts) else None
        own = [fact for fact in facts if (index == 0 or fact.time >= start) and (until is None or fact.time < until)]
        closing = next((fact.time for fact in own if fact.entry.kind == "job-close" and not fact.void), until)
        # What is said to have happened after the close is not part of a closed round; entered late is another matter.
        done = [fact for fact in own if closing is None or fact.time <= closing]
        rounds.append(
            Round(index + 1, start, closing, reasons[index], tuple(_runs(done)), tuple(_checks(done)), tuple(_films(done)))
        )
    return rounds


def _checks(facts: list[Fact]) -> Iterator[Check]:
    for fact in facts:
        if fact.entry.kind == "check" and not fact.void:
            yield Check(fact.body["check"], fact.body["result"], fact.time, fact.by, fact.body.get("values", {}))


def _films(facts: list[Fact]) -> Iterator[Film]:
    for fact in facts:
        if fact.entry.kind == "film" and not fact.void:
            body = fact.body
            yield Film(body["step"], body.get("zone"), body["value"], body["gauge"], fact.time, fact.by)


def _runs(facts: list[Fact]) -> list[Run]:
    by_step: dict[str, list[Fact]] = defaultdict(list)
    for fact in facts:
        if fact.entry.kind in ("step-start", "step-end", "hold", "resume", "handover"):
            by_step[fact.body["step"]].append(fact)
    runs = [run for step, own in by_step.items() if (run := _run(step, own)) is not None]
    said = [run for run in runs if run.hands and run.end is not None and not is_slip(run.start, run.end)]
    baked = {fact.body["step"] for fact in facts if fact.body.get("told_from") == BY_HEAT}
    return sorted(
        (run for run in runs if run.step in baked or not _is_named_otherwise(run, said)), key=lambda run: (run.start, run.step)
    )


def _is_named_otherwise(run: Run, said: Iterable[Run]) -> bool:
    """Whether the guns told of a coat, and people say that the same work was another step."""
    if run.source != "inferred" or run.hands:
        return False
    return any(same_work(run.start, run.end, one.start, one.end) for one in said)


def _run(step: str, facts: list[Fact]) -> Run | None:
    entered, forgotten = _passes(facts, "entered")
    signalled = _passes(facts, "signalled")[0]
    inferred = [one for one in _passes(facts, "inferred")[0] if not any(_overlap(one, other) for other in signalled)]
    passes = _believed(entered, [*inferred, *signalled], forgotten)
    if not passes:
        return None
    ends = [one.end for one in passes]
    source = min((one.source for one in passes), key=WEAKEST_FIRST.index)
    standing = [fact for fact in facts if not fact.void]
    by = next((fact.by for fact in standing if fact.source == "entered" and fact.entry.kind == "step-start"), None)
    mixes = tuple(dict.fromkeys(fact.body["mix"] for fact in standing if fact.body.get("mix")))
    return Run(
        step=step,
        kind="",  # the process knows it: booth.judge.course
        booth=next((fact.body["booth"] for fact in standing if fact.body.get("booth")), None),
        start=min(one.start for one in passes),
        end=None if None in ends else max(ends),
        source=source,
        passes=tuple(passes),
        holds=tuple(_holds(standing)),
        mix=next(iter(mixes), None),
        mixes=mixes,
        by=by,
        hands=tuple(dict.fromkeys(fact.by for fact in standing if fact.by and fact.source == "entered")),
    )


def _passes(facts: list[Fact], source: str) -> tuple[list[Pass], list[int]]:
    """Starts and ends of one source paired by zone, and the ends whose start nobody entered.

    A second start of what is already running says nothing new, but where that was none; an end without a zone ends whatever is
    running. A pass is void if its start or its end is.
    """
    running: dict[str | None, Fact] = {}
    done: list[Pass] = []
    forgotten: list[int] = []
    for fact in facts:
        if fact.source != source:
            continue
        zone = fact.body.get("zone")
        if fact.entry.kind == "step-start":
            if zone not in running or running[zone].void:
                running[zone] = fact
        elif fact.entry.kind == "step-end":
            started = [zone] if zone in running else list(running) if zone is None else []
            done += [
                Pass(one, begun.time, fact.time, source) for one in started if not ((begun := running.pop(one)).void or fact.void)
            ]
            if not started and not fact.void:
                forgotten.append(fact.time)
    return done + [Pass(zone, begun.time, None, source) for zone, begun in running.items() if not begun.void], forgotten


def _believed(entered: list[Pass], told: list[Pass], forgotten: list[int]) -> list[Pass]:
    """People's passes, and of what the instruments told only what people said nothing of.

    Somebody who pressed start and forgot the end gets the end that the instruments saw; one who pressed only the end gets the
    instruments' start.
    """
    believed: list[Pass] = []
    used: list[Pass] = []
    for one in entered:
        match = next((other for other in told if _overlap(one, other)), None)
        used += [match] if match is not None else []
        if one.end is None and match is not None and match.end is not None:
            one = Pass(one.zone, one.start, max(match.end, one.start), match.source)
        believed.append(one)
    rest = [other for other in told if other not in used and not any(_overlap(one, other) for one in believed)]
    return sorted(believed + _ended_by_people(rest, forgotten), key=lambda one: (one.start, one.zone or ""))


def _ended_by_people(told: list[Pass], ends: Iterable[int]) -> list[Pass]:
    """Each end goes to the pass that last began before it."""
    passes = sorted(told, key=lambda one: one.start)
    for end in ends:
        begun = [index for index, one in enumerate(passes) if one.start < end]
        if begun:
            one = passes[begun[-1]]
            passes[begun[-1]] = Pass(one.zone, one.start, end, one.source)
    return passes


def _overlap(one: Pass, other: Pass) -> bool:
    return (other.end is None or one.start < other.end) and (one.end is None or other.start < one.end)


def _holds(facts: list[Fact]) -> Iterator[tuple[int, int | None]]:
    since: int | None = None
    for fact in facts:
        if fact.entry.kind == "hold" and since is None:
            since = fact.time
        elif fact.entry.kind == "resume" and since is not None:
            yield since, fact.time
            since = None
    if since is not None:
        yield since, None
