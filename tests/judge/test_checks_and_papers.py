"""Gates, looks, inspections, lots, calibrations, and steps that nobody recorded."""

from __future__ import annotations

import pytest

from booth.judge.facts import Calibration, Check, Mix
from booth.judge.finding import Finding
from booth.judge.judge import judge
from booth.shop.requirement import CheckTerms, LotTerms, NoTerms
from booth.units import parse
from tests.judge.made_up import a_pass, a_requirement, at, span

LATER = 1000
GATE = a_requirement("gate", CheckTerms("water-test", retest_after_repair=True), "number")
LOOSE = a_requirement("gate", CheckTerms("water-test"), "number")


def said(requirement, evidence, minute: float = LATER) -> Finding | None:
    return judge(requirement, evidence, at(minute))


def checks(*results: str, name: str = "water-test", **values: str) -> tuple[Check, ...]:
    """Recorded at minutes -10, -9, …"""
    return tuple(Check(name, result, at(index - 10), "badge-31", values) for index, result in enumerate(results))


class TestGate:
    @pytest.mark.parametrize(
        ("gate", "results", "verdict", "sentence"),
        [
            (GATE, ("passed",), "met", "Water test passed"),
            (GATE, ("failed", "repaired", "passed"), "met", "Water test passed after failed, repaired"),
            (GATE, ("failed",), "missed", "Water test failed, and no later one passed"),
            (GATE, ("passed", "failed"), "missed", "Water test failed after passed, and no later one passed"),
            (GATE, ("failed", "repaired"), "missed", "Water test: repaired, but not tested again after failed"),
            (GATE, ("passed", "repaired"), "missed", "Water test: repaired, but not tested again after passed"),
            (GATE, (), "unproven", "Water test: no record"),
            (LOOSE, ("passed", "repaired"), "met", "Water test passed"),
            (LOOSE, ("failed", "repaired"), "missed", "Water test failed, and no later one passed"),
            (LOOSE, ("repaired",), "unproven", "Water test: no record"),
        ],
    )
    def test_the_last_word_before_the_coat_counts(self, gate, results, verdict: str, sentence: str) -> None:
        found = said(gate, span(0, 20, checks=checks(*results)))
        assert (found.verdict, found.final, found.sentence) == (verdict, True, sentence)

    @pytest.mark.parametrize(
        ("results", "verdict", "sentence"),
        [
            (("failed",), "unproven", "Water test failed, and no later one passed"),
            (("failed", "repaired"), "unproven", "Water test: repaired, but not tested again after failed"),
            ((), "unproven", "Water test: no record yet"),
            (("passed",), "met", "Water test passed"),
        ],
    )
    def test_before_the_coat_it_only_blocks(self, results, verdict: str, sentence: str) -> None:
        found = said(GATE, span(None, None, checks=checks(*results)))
        assert (found.verdict, found.final, found.sentence) == (verdict, False, sentence)

    def test_a_check_after_the_coat_began_comes_too_late(self) -> None:
        late = (Check("water-test", "passed", at(5), None),)
        assert said(GATE, span(0, 20, checks=late)).sentence == "Water test: no record before the coat"

    @pytest.mark.parametrize(
        ("flow", "verdict"),
        [("30 gallon/min", "met"), ("113.5623535 L/min", "met"), ("32 gallon/min", "met"), ("29.9 gallon/min", "missed")],
    )
    def test_a_water_test_at_thirty_us_gallons_a_minute(self, flow: str, verdict: str) -> None:
        """Common practice, no source. 30 US gal/min is 113.5623535 L/min: the gallon is 3.785411784 L by definition."""
        terms = CheckTerms("water-test", retest_after_repair=True, value="flow")
        gate = a_requirement("gate", terms, "liquid_flow", low=parse("30 gallon/min", "liquid_flow"))
        found = said(gate, span(0, 20, checks=checks("passed", flow=flow)))
        assert found.verdict == verdict, found.sentence
        if flow == "29.9 gallon/min":
            assert found.sentence == (
                "Water test was entered as passed, but flow 113.2 L/min is not within its limit (at least 113.6 L/min)"
            )
            assert said(gate, span(None, None, checks=checks("passed", flow=flow))).verdict == "unproven"
        lacking = said(gate, span(0, 20, checks=checks("passed")))
        assert (lacking.verdict, lacking.sentence) == (
            "unproven",
            "Water test passed, but its flow was not recorded (limit at least 113.6 L/min)",
        )


class TestAppearanceAndInspection:
    LOOK = a_requirement("appearance", CheckTerms("uniformly-matt"), "number")
    INSPECT = a_requirement("check", CheckTerms("inspect"), "number")

    def flash(self, look: float | None, following: float | None = 30, **known):
        seen = () if look is None else (Check("uniformly-matt", "passed", at(look), None),)
        begun = None if following is None else at(following)
        return span(10, following, before=(a_pass(0, 10),), following=begun, checks=seen, **known)

    @pytest.mark.parametrize(
        ("look", "following", "verdict", "final", "sentence"),
        [
            (20, 30, "met", True, "Uniformly matt passed"),
            (20, None, "met", False, "Uniformly matt passed"),
            (31, 30, "unproven", True, "Uniformly matt: no record before the coat"),
            (5, 30, "unproven", True, "Uniformly matt: no record after the coat's end"),  # the coat is sprayed from 0 to 10
            (5, None, "unproven", False, "Uniformly matt: no record after the coat's end yet"),
            (None, 30, "unproven", True, "Uniformly matt: no record"),
            (None, None, "unproven", False, "Uniformly matt: no record yet"),
        ],
    )
    def test_a_look_during_the_flash_off(self, look, following, verdict: str, final: bool, sentence: str) -> None:
        found = said(self.LOOK, self.flash(look, following))
        assert (found.verdict, found.final, found.sentence) == (verdict, final, sentence)
        assert said(self.LOOK, span(None, None)) is None

    def test_a_look_proves_nothing_where_the_end_of_the_coat_is_not_known(self) -> None:
        seen = (Check("uniformly-matt", "passed", at(20), None),)
        found = said(self.LOOK, span(10, 30, before=(a_pass(0, None),), following=at(30), checks=seen))
        assert (found.verdict, found.final) == ("unproven", True)
        assert found.sentence == "Uniformly matt is unproven: the end of the coat before was not recorded"

    def test_an_inspection_can_be_repeated_until_the_round_is_closed(self) -> None:
        failed = checks("failed", name="inspect")
        assert said(self.INSPECT, span(None, None, checks=failed)).verdict == "unproven"
        assert said(self.INSPECT, span(None, None, checks=failed, closed=at(50))).verdict == "missed"
        assert said(self.INSPECT, span(None, None, checks=checks("failed", "passed", name="inspect"))).verdict == "met"


class TestLots:
    LIMIT = a_requirement("lots", LotTerms("two-pack-clear", ("resin", "hardener")), "number")

    def mix(self, coating: str = "two-pack-clear", lots=None):
        return Mix("M-3", coating, at(-5), None, None, None, {"resin": "R-1", "hardener": "H-2"} if lots is None else lots)

    @pytest.mark.parametrize(
        ("mix", "named", "end", "verdict", "sentence"),
        [
            ("good", "M-3", 20, "met", "Mix M-3: resin R-1, hardener H-2"),
            ("good", "M-3", None, "unproven", "So far: Mix M-3: resin R-1, hardener H-2"),
            ("other", "M-3", 20, "missed", "Mix M-3 is epoxy-sealer, the step asks for two-pack-clear"),
            ("bare", "M-3", 20, "unproven", "Lots are unproven: mix M-3 names none"),
            ("half", "M-3", 20, "unproven", "Lots are unproven: mix M-3 names no lot of hardener"),
            (None, "M-3", 20, "unproven", "Lots are unproven: mix M-3 is not in the journal"),
            (None, None, 20, "unproven", "Lots are unproven: the coat names no mix"),
        ],
    )
    def test_lots(self, mix, named, end, verdict: str, sentence: str) -> None:
        known = {
            "good": self.mix(),
            "other": self.mix("epoxy-sealer"),
            "bare": self.mix(lots={}),
            "half": self.mix(lots={"resin": "R-1"}),
        }.get(mix)
        found = said(self.LIMIT, span(0, end, mix=known, mix_named=named))
        assert (found.verdict, found.sentence) == (verdict, sentence)
        assert said(self.LIMIT, span(None, None)) is None


class TestCalibration:
    LIMIT = a_requirement("calibration", NoTerms(), "number")

    def known(self, result: str = "passed", until: float = 100) -> Calibration:
        return Calibration("north/humidity", at(-1000), result, at(until))

    @pytest.mark.parametrize(
        ("calibrations", "end", "verdict", "sentence"),
        [
            ({"a": ("passed", 100), "b": ("passed", 20)}, 20, "met", "Calibration in force for all 2 instruments that decide"),
            ({"a": ("passed", 100)}, None, "unproven", "So far: Calibration in force for the one instrument that decides"),
            ({"a": ("passed", 100), "b": ("passed", 19)}, 20, "unproven", "Calibration: b ran out"),
            ({"a": None, "b": ("failed", 100)}, 20, "missed", "Calibration: a has none; b failed its last one"),
            ({}, 20, "unproven", "Calibration: no instrument is known that decides"),
        ],
    )
    def test_every_instrument_that_decides(self, calibrations, end, verdict: str, sentence: str) -> None:
        known = {name: None if one is None else self.known(*one) for name, one in calibrations.items()}
        found = said(self.LIMIT, span(0, end, calibrations=known), 20)
        assert (found.verdict, found.sentence) == (verdict, sentence)
        assert said(self.LIMIT, span(None, None)) is None


def test_a_step_that_nobody_recorded_is_a_finding() -> None:
    requirement = a_requirement("done", NoTerms(), "number")
    assert said(requirement, span(0, 20, closed=at(50))) is None
    found = said(requirement, span(None, None))
    assert (found.verdict, found.final, found.sentence) == ("unproven", False, "Step step: not begun yet")
    found = said(requirement, span(None, None, closed=at(50)))
    assert (found.verdict, found.final, found.sentence) == ("unproven", True, "Step step: no record of it")
