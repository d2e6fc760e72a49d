"""Papers: the lots that went into a coat, and calibrations in force for the instruments that decide."""

from __future__ import annotations

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding, Verdict
from booth.judge.judging import finding, so_far
from booth.shop.requirement import LotTerms, Requirement


def judge_lots(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """The coat names a mix, the mix is of its coating, and a lot of every component is recorded."""
    if evidence.start is None:
        return None
    terms: LotTerms = requirement.terms
    mix = evidence.mix
    final = evidence.final(as_of)
    if mix is None:
        named = f"mix {evidence.mix_named} is not in the journal" if evidence.mix_named else "the coat names no mix"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, f"Lots are unproven: {named}", final=final)
    if mix.coating != terms.coating:
        sentence = f"Mix {mix.mix} is {mix.coating}, the step asks for {terms.coating}"
        return finding(requirement, evidence, as_of, Verdict.MISSED, sentence, final=final)
    lacking = [one for one in terms.components if not mix.lots.get(one)]
    if lacking or not mix.lots:
        which = f"no lot of {' or '.join(lacking)}" if lacking and mix.lots else "none"
        sentence = f"Lots are unproven: mix {mix.mix} names {which}"
        return finding(requirement, evidence, as_of, Verdict.UNPROVEN, sentence, final=final)
    lots = ", ".join(f"{component} {lot}" for component, lot in mix.lots.items())
    verdict = Verdict.MET if final else Verdict.UNPROVEN
    return finding(requirement, evidence, as_of, verdict, f"{so_far(final)}Mix {mix.mix}: {lots}", final=final)


def judge_calibration(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """Every point that decides has a passed calibration in force from the start of the step to its end."""
    if evidence.start is None:
        return None
    start, end = evidence.span(as_of)
    wrong = []
    failed = False
    for point, calibration in evidence.calibrations.items():
        if calibration is None:
            wrong.append(f"{point} has none")
        elif calibration.result != "passed":
            wrong.append(f"{point} failed its last one")
            failed = True
        elif calibration.valid_until < end:
            wrong.append(f"{point} ran out")
        elif calibration.time > start:
            wrong.append(f"{point} had none in force when the step began")
    final = evidence.final(as_of)
    if wrong or not evidence.calibrations:
        verdict = Verdict.MISSED if failed else Verdict.UNPROVEN
        said = "; ".join(wrong) or "no instrument is known that decides"
        return finding(requirement, evidence, as_of, verdict, f"Calibration: {said}", final=final)
    verdict = Verdict.MET if final else Verdict.UNPROVEN
    count = len(evidence.calibrations)
    whose = "the one instrument that decides" if count == 1 else f"all {count} instruments that decide"
    return finding(requirement, evidence, as_of, verdict, f"{so_far(final)}Calibration in force for {whose}", final=final)
