"""The one judge: a requirement, its evidence and a moment in; a finding out. Which rule serves which kind is listed here."""

from __future__ import annotations

from collections.abc import Callable

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding
from booth.judge.rules.bake_start import judge_bake_start
from booth.judge.rules.checks import judge_appearance, judge_check, judge_gate
from booth.judge.rules.climate import judge_climate
from booth.judge.rules.cool import judge_cool_below, judge_cool_minimum
from booth.judge.rules.done import judge_done
from booth.judge.rules.dwell import judge_dwell
from booth.judge.rules.flash import judge_flash_maximum, judge_flash_minimum
from booth.judge.rules.heat_up import judge_heat_up
from booth.judge.rules.heating_rate import judge_heating_rate
from booth.judge.rules.mode import judge_mode
from booth.judge.rules.over_bake import judge_over_bake
from booth.judge.rules.papers import judge_calibration, judge_lots
from booth.judge.rules.peak import judge_peak
from booth.judge.rules.pot import judge_induction, judge_pot_life
from booth.judge.rules.purge import judge_purge
from booth.judge.rules.wait import judge_wait
from booth.shop.measures import LIMITED
from booth.shop.requirement import Requirement

Rule = Callable[[Requirement, Evidence, int], Finding | None]

RULES: dict[str, Rule] = {
    "done": judge_done,
    **dict.fromkeys(LIMITED, judge_climate),
    "mode": judge_mode,
    "flash_minimum": judge_flash_minimum,
    "flash_maximum": judge_flash_maximum,
    "appearance": judge_appearance,
    "pot_life": judge_pot_life,
    "induction": judge_induction,
    "purge_volumes": judge_purge,
    "bake_start": judge_bake_start,
    "heat_up": judge_heat_up,
    "dwell": judge_dwell,
    "peak": judge_peak,
    "heating_rate": judge_heating_rate,
    "over_bake": judge_over_bake,
    "cool_minimum": judge_cool_minimum,
    "cool_below": judge_cool_below,
    "wait": judge_wait,
    "gate": judge_gate,
    "check": judge_check,
    "lots": judge_lots,
    "calibration": judge_calibration,
}
"""Requirement kind -> rule. A new rule is one file and one line here."""


def judge(requirement: Requirement, evidence: Evidence, as_of: int) -> Finding | None:
    """The finding on this evidence as known at `as_of` (microseconds UTC); None while there is nothing to judge yet.

    The evidence must hold nothing newer than `as_of`.
    """
    return RULES[requirement.kind](requirement, evidence, as_of)
