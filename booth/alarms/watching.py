"""From findings to alarm conditions: what a painter must be told, and since when it is so.

A miss is latched: it never mends by itself. Before it, a window about to close and a measure out of its limits are warnings
under the same id, so that the miss worsens the warning instead of standing beside it. What is over stays listed with its end, so
that it doesn't matter when somebody looked.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from booth.alarms.condition import Condition, condition_id
from booth.judge.finding import Finding, Verdict
from booth.shop.measures import LIMITED

WARNED_KINDS = ("bake_start", "flash_maximum", "pot_life", "heat_up")
"""Kinds whose window closes on somebody who could still hurry."""

DECIDED_AT_START = ("bake_start", "induction", "gate")
"""Kinds that are missed by beginning the step."""

PAPERS = ("calibration", "lots", "done", "check")
"""Kinds for the supervisor's screen, not for the painter's beacon."""


@dataclass(frozen=True)
class Where:
    """What the finding is about, beyond what it says itself. `silent_since`: since when a point that it needs has been silent."""

    booth: str
    vehicle: str
    round: int
    grace_us: int = 0
    what_to_do: str = ""
    silent_since: int | None = None


def may_speak(finding: Finding) -> bool:
    """Whether there can be anything to announce: most of what is final and not missed has nothing to say for ever."""
    return not finding.final or finding.verdict is Verdict.MISSED or bool(finding.excursions) or finding.kind in WARNED_KINDS


def conditions_of(finding: Finding, where: Where, as_of: int, warn_before_us: int) -> Iterator[Condition]:
    """Everything that this finding is a reason to announce at `as_of`.

    A window that closes is announced so long before the soonest moment at which it may close.
    """
    if finding.kind in PAPERS:
        return
    common = common_of(finding, where)
    if finding.kind == "mode" and not finding.final:
        yield from _in_another_mode(finding, where, common, as_of)
    elif finding.verdict is Verdict.MISSED:
        latest = finding.window.latest if finding.window else None
        overrun = as_of - latest if latest is not None and not finding.final and as_of > latest else None
        since = min(missed_since(finding, where.grace_us, as_of), as_of)
        yield Condition(**common, priority="alarm", sentence=finding.sentence, since=since, latched=True, overrun_us=overrun)
    elif finding.kind in WARNED_KINDS and finding.window and finding.window.latest is not None:
        since = finding.window.latest - (finding.window.sooner_us or 0) - warn_before_us
        until = _done_at(finding) if finding.final else None
        if since <= as_of and (until is None or since < until):
            sentence = f"Window closes soon. {finding.sentence}"
            yield Condition(**common, priority="warning", sentence=sentence, since=since, until=until)
    if finding.kind in LIMITED:
        yield from _out_of_limits(finding, where, common, as_of)


def common_of(finding: Finding, where: Where) -> dict[str, Any]:
    """What all conditions about one requirement share."""
    return {
        "id": condition_id(where.vehicle, where.round, finding.step, finding.requirement.partition("/")[2]),
        "booth": where.booth,
        "requirement": finding.requirement,
        "vehicle": where.vehicle,
        "round": where.round,
        "step": finding.step,
        "what_to_do": where.what_to_do,
        "window": finding.window,
    }


def missed_since(finding: Finding, grace_us: int, as_of: int) -> int:
    """The moment at which the miss became one, by the time of the readings and not of whoever looked."""
    for excursion in finding.excursions:
        if excursion.length > grace_us:
            return excursion.start + grace_us
    if finding.window is not None and finding.window.latest is not None and finding.window.latest < as_of:
        return finding.window.latest
    if finding.kind in DECIDED_AT_START and finding.start is not None:
        return finding.start
    return finding.end if finding.final and finding.end is not None else as_of


def _done_at(finding: Finding) -> int | None:
    """When a requirement with a window was met, or could not be any more."""
    if finding.kind == "bake_start":
        return finding.start
    if finding.kind == "heat_up" and finding.verdict is Verdict.MET:
        return finding.start + round(finding.observed * 1e6)
    return finding.end


def _out_of_limits(finding: Finding, where: Where, common: dict[str, Any], as_of: int) -> Iterator[Condition]:
    """Each excursion. One that reaches the judging moment is not over, nor is one that ended because its sensor fell silent."""
    for excursion in finding.excursions:
        silenced = where.silent_since is not None and excursion.end >= where.silent_since
        goes_on = not finding.final and (excursion.end >= as_of or silenced)
        until = None if goes_on else excursion.end
        yield Condition(**common, priority="warning", sentence=finding.sentence, since=excursion.start, until=until)


def _in_another_mode(finding: Finding, where: Where, common: dict[str, Any], as_of: int) -> Iterator[Condition]:
    """While a step goes on this is only a warning, since entering its end mends it. An inferred step has nobody to remind."""
    if finding.span_source == "inferred":
        return
    for excursion in finding.excursions:
        if excursion.length > where.grace_us:
            sentence = f"{finding.sentence}. If the step is over, enter its end"
            until = excursion.end if excursion.end < as_of else None
            yield Condition(**common, priority="warning", sentence=sentence, since=excursion.start + where.grace_us, until=until)
