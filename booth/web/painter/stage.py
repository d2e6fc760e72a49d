"""Where a van stands in its process: what is being done to it, what comes next, from when it may and until when it must."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from booth.judge.facts import Run
from booth.judge.finding import Finding, Verdict, Window
from booth.judge.gather import Case
from booth.judge.outlook import Expected, the_last
from booth.live_jobs import LiveJob, Seen
from booth.times import HOUR, SECOND

WORKED = ("coat", "flash", "purge", "bake", "cool")
"""Kinds of step that take time in a booth; checks and mixes are moments."""

MAY_FROM = ("flash_minimum", "bake_start", "dwell", "cool_minimum", "cool_below")
"""Kinds whose earliest moment the next step waits for."""

MUST_BY = ("flash_maximum", "bake_start")
"""Kinds whose latest moment the next step must not miss."""

BESIDE = ("heat_up", "pot_life", "induction")
"""Kinds that run beside what comes next, and are told on lines of their own."""

CONFIRM_WITHIN_US = 4 * HOUR


@dataclass(frozen=True)
class Coming:
    """The next step. `may` and `must` in microseconds, None where nothing limits it; `unknown`: something does, but nobody
    knows yet from when, and then `may` is None whatever else is known. `sooner_s` and `later_s`: how sure `may` is.

    Under the guarded rule both are on the safe side of what is known, so that whoever keeps to them keeps the limit for certain.
    """

    step: str
    kind: str
    may: int | None
    must: int | None
    unknown: bool
    sooner_s: float | None = None
    later_s: float | None = None


@dataclass(frozen=True)
class Stage:
    """`now` is what goes on, None between two steps; `beside` are findings with a clock of their own."""

    now: Case | None
    next: Case | None
    coming: Coming | None
    beside: tuple[Finding, ...]


def stage_of(live: LiveJob, findings: Sequence[Seen]) -> Stage:
    """Where a van stands, by its latest round."""
    cases = [laid.case for laid in live.steps if laid.case.step.kind in (*WORKED, "inspect")]
    going = [case for case in cases if case.run is not None and case.end is None]
    now = max(going, key=lambda case: case.run.start, default=None)
    begun = [index for index, case in enumerate(cases) if case.run is not None]
    # A flash-off begins by itself, and whatever lies before a step that was done is over.
    later = cases[max(begun, default=-1) + 1 :]
    following = next((case for case in later if case.step.kind != "flash"), None)
    waiting = [_safe(seen) for seen in findings if not seen.finding.final and seen.finding.window is not None]
    if any(one.kind == "bake_start" for one in waiting):  # the clock runs to the bake, with a purge on the way
        following = next((case for case in later if case.step.kind == "bake"), following)
    return Stage(now, following, _coming(following, waiting), tuple(one for one in waiting if one.kind in BESIDE))


def _coming(following: Case | None, waiting: Iterable[Finding]) -> Coming | None:
    if following is None:
        return None
    waiting = list(waiting)
    may = [one for one in waiting if one.kind in MAY_FROM]
    windows = [one.window for one in may if one.window.earliest is not None]
    latest = [one.window.latest for one in waiting if one.kind in MUST_BY and one.window.latest is not None]
    unknown = any(one.window.earliest is None and one.kind != "bake_start" and one.verdict is not Verdict.MET for one in may)
    step = following.step
    coming = Coming(step.step, step.kind, None, min(latest, default=None), unknown)
    if unknown or not windows:  # what is known of the others says nothing while one of them keeps its moment to itself
        return coming
    last = the_last([Expected(one.earliest, one.sooner_us, one.later_us) for one in windows])
    sure = (None if us is None else us / SECOND for us in (last.sooner_us, last.later_us))
    return replace(coming, may=last.at, **dict(zip(("sooner_s", "later_s"), sure, strict=True)))


def _safe(seen: Seen) -> Finding:
    """With its window narrowed by what isn't known of its ends, where the rule is guarded: then nothing is left to say ± of."""
    window, finding = seen.finding.window, seen.finding
    if not seen.requirement.guarded or window.sooner_us is None:
        return finding
    earliest = None if None in (window.earliest, window.later_us) else window.earliest + window.later_us
    latest = None if window.latest is None else window.latest - window.sooner_us
    return replace(finding, window=Window(earliest, latest))


def to_confirm(live: LiveJob, booth: str, as_of: int) -> list[Run]:
    """Coats of this booth that the guns told of and no person has said anything about yet."""
    if live.job.round.closed is not None:
        return []
    runs = [laid.case.run for laid in live.steps if laid.case.step.kind == "coat" and laid.case.run is not None]
    return [
        run for run in runs if run.source == "inferred" and run.booth == booth and as_of - (run.end or as_of) <= CONFIRM_WITHIN_US
    ]
