"""Checks: gates before the first coat, a painter's look at the film, the inspection.

The last word counts: a failed check blocks until a later one passes, and where the process says so a repair asks for a new test.
No record is unproven. A record that says no is missed once it is too late for another; until then it only blocks.
"""

from __future__ import annotations

from booth.judge.evidence import Evidence
from booth.judge.facts import Check
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import finding, limit_words, margin, shown
from booth.shop.process import GATE_VALUES
from booth.shop.requirement import CheckTerms, Requirement
from booth.units import parse


def judge_gate(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """The last check before the coat began; before it begins, the last one so far."""
    begun = evidence.start is not None
    return _judge(requirement, evidence, as_of, evidence.start if begun else as_of, begun or evidence.over)


def judge_appearance(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """A look that must have passed during the flash-off: after the coat's end, since a film still sprayed shows nothing yet."""
    if evidence.start is None:
        return None
    final = evidence.following is not None or evidence.over
    ends = [one.end for one in evidence.before]
    if None in ends:
        name = _name(requirement)
        sentence = f"{name} is unproven: the end of the coat before was not recorded"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence, final=final)
    until = evidence.following if evidence.following is not None else as_of
    return _judge(requirement, evidence, as_of, until, final, max(ends, default=evidence.start))


def judge_check(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """A step that is a check: its last word so far."""
    return _judge(requirement, evidence, as_of, as_of, evidence.over)


def _judge(
    requirement: Requirement, evidence: Evidence, as_of: int, until: int, final: bool, since: int | None = None
) -> Finding:
    terms: CheckTerms = requirement.terms
    name = _name(requirement)
    own = [one for one in evidence.checks if one.check == terms.check]
    history = [one for one in own if one.time <= until and (since is None or one.time >= since)]
    telling = history if terms.retest_after_repair else [one for one in history if one.result != "repaired"]
    refused = Verdict.MISSED if final else Verdict.UNPROVEN
    if not telling:
        when = " before the coat" if final and any(one.time > until for one in own) else ""
        if since is not None and any(one.time < since for one in own):
            when = " after the coat's end"
        verdict, sentence = Verdict.UNPROVEN, f"{name}: no record{when}{'' if final else ' yet'}"
    elif telling[-1].result == "passed":
        return _passed(requirement, evidence, as_of, telling[-1], f"{name} passed{_earlier(history, telling[-1])}", final)
    elif telling[-1].result == "repaired":
        verdict, sentence = refused, f"{name}: repaired, but not tested again{_earlier(history, telling[-1])}"
    else:
        verdict, sentence = refused, f"{name} failed{_earlier(history, telling[-1])}, and no later one passed"
    return finding(requirement, evidence, as_of, verdict, sentence, final=final)


def _passed(requirement: Requirement, evidence: Evidence, as_of: int, check: Check, said: str, final: bool) -> Finding:
    """A check that passed, with the value that it had to record, if any."""
    name = requirement.terms.value
    if name is None:
        return finding(requirement, evidence, as_of, Verdict.MET, said, final=final)
    limit = limit_words(requirement.low, requirement.high, requirement.quantity)
    if name not in check.values:
        sentence = f"{said}, but its {name} was not recorded (limit {limit})"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence, final=final)
    value = parse(check.values[name], GATE_VALUES[name])
    inside = margin(value, requirement.low, requirement.high)
    # One part in a million: 30 gal/min entered is 30 gal/min required, whatever the conversion's last digit says.
    verdict = Verdict.MET if inside >= -1e-6 * abs(value) else Verdict.MISSED if final else Verdict.UNPROVEN
    sentence = f"{said}, {name} {shown(value, requirement)} (limit {limit})"
    if verdict is not Verdict.MET:
        entered = said.replace(" passed", " was entered as passed", 1)
        sentence = f"{entered}, but {name} {shown(value, requirement)} is not within its limit ({limit})"
    return finding(requirement, evidence, as_of, verdict, sentence, final=final, observed=value, margin=inside)


def _name(requirement: Requirement) -> str:
    return requirement.terms.check.replace("-", " ").capitalize()


def _earlier(history: list[Check], last: Check) -> str:
    """` after failed, repaired`: what was recorded before."""
    words = [one.result for one in history[: history.index(last)]]
    return f" after {', '.join(words)}" if words else ""
