"""A step that the process asks for and nobody recorded is a finding of its own: an open job is never met."""

from __future__ import annotations

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import finding
from booth.shop.requirement import Requirement


def judge_done(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None once the step has begun: its other requirements then say how it went."""
    if evidence.start is not None:
        return None
    sentence = f"Step {requirement.step}: {'no record of it' if evidence.over else 'not begun yet'}"
    return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence)
