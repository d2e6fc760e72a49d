"""The process's own way out of a miss. The miss stays; the round ends `remedied`."""

from __future__ import annotations

from booth.judge.course import next_run
from booth.judge.facts import Check, Round
from booth.judge.finding import Finding, Verdict
from booth.shop.process import Process


def remedied_by(finding: Finding, process: Process, round_: Round) -> Check | None:
    """The check that remedied a miss: the one that the process names, passed after the miss and before the next coat.

    A scuff before anything was missed remedies nothing, and one after the next coat lies under it.
    """
    step = process.named(finding.step)
    remedy = step.remedy if step else None
    if finding.verdict is not Verdict.MISSED or remedy is None or remedy.for_ != finding.kind:
        return None
    following = next_run(step, round_, process) if step.kind == "flash" else None
    since, until = _missed_at(finding), following.start if following else None
    passed = (one for one in round_.checks if one.check == remedy.check and one.result == "passed")
    return next((one for one in passed if one.time >= since and (until is None or one.time <= until)), None)


def _missed_at(finding: Finding) -> int:
    if finding.window is not None and finding.window.latest is not None:
        return finding.window.latest
    if finding.excursions:
        return finding.excursions[0].start
    return finding.end or finding.start or 0
