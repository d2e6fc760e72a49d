"""From findings to alarm conditions: what a painter must be told, and since when it is so.

A miss is latched: it never mends by itself. Before it, a window about to close and a measure out of its limits are warnings
under the same id, so that the miss worsens the warning instead of standing beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from booth.alarms.condition import Condition, condition_id
from booth.judge.finding import Finding, Verdict
from booth.shop.measures import LIMITED

WARNED_KINDS = ("bake_start", "flash_maximum", "pot_life", "heat_up")
"""Kinds whose window closes on somebody who could still hurry."""


@dataclass(frozen=True)
class Where:
    """What the finding is about, beyond what it says itself."""

    booth: str
    vehicle: str
    round: int
    grace_us: int = 0
    what_to_do: str = ""
    decides: bool = True  # only an open round is worth an alarm


def conditions_of(finding: Finding, where: Where, as_of: int, warn_before_us: int) -> Iterator[Condition]:
    """Everything that this finding is a reason to announce at `as_of`."""
    identity = condition_id(where.vehicle, where.round, finding.step, finding.requirement.partition("/")[2])
    common = {
        "id": identity,
        "booth": where.booth,
        "requirement": finding.requirement,
        "vehicle": where.vehicle,
        "round": where.round,
        "step": finding.step,
        "what_to_do": where.what_to_do,
        "window": finding.window,
    }
    if finding.verdict is Verdict.MISSED:
        latest = finding.window.latest if finding.window else None
        overrun = as_of - latest if latest is not None and not finding.final and as_of > latest else None
        since = min(missed_since(finding, where.grace_us, as_of), as_of)
        yield Condition(**common, priority="alarm", sentence=finding.sentence, since=since, latched=True, overrun_us=overrun)
    elif finding.kind in WARNED_KINDS and not finding.final and finding.window and finding.window.latest is not None:
        since = finding.window.latest - warn_before_us
        if since <= as_of <= finding.window.latest:
            yield Condition(**common, priority="warning", sentence=f"Window closes soon. {finding.sentence}", since=since)
    if finding.kind in LIMITED and finding.verdict is not Verdict.MISSED:
        yield from _out_of_limits(finding, common, as_of)


def missed_since(finding: Finding, grace_us: int, as_of: int) -> int:
    """The moment at which the miss became one, by the time of the readings and not of whoever looked."""
    for excursion in finding.excursions:
        if excursion.length > grace_us:
            return excursion.start + grace_us
    if finding.window is not None and finding.window.latest is not None and finding.window.latest < as_of:
        return finding.window.latest
    return finding.end if finding.final and finding.end is not None else as_of


def _out_of_limits(finding: Finding, common: dict, as_of: int) -> Iterator[Condition]:
    """Each excursion of a step that goes on; one that reaches the judging moment is not over."""
    if finding.final:
        return
    for excursion in finding.excursions:
        until = excursion.end if excursion.end < as_of else None
        yield Condition(**common, priority="warning", sentence=finding.sentence, since=excursion.start, until=until)
