"""A step that the process asks for and nobody recorded is a finding of its own, once the round is closed."""

from __future__ import annotations

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import finding
from booth.shop.requirement import Requirement


def judge_done(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """None while the step may still come, and when it was done."""
    if evidence.start is not None or not evidence.over:
        return None
    return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"Step {requirement.step}: no record of it")
