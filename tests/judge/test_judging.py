"""What the rules share: gaps that a span can bear, values told beside their limits, probabilities, verdicts put together."""

from __future__ import annotations

import math

import pytest
from scipy.stats import norm

from booth.judge.evidence import UNKNOWN, Evidence
from booth.judge.finding import Verdict, overall
from booth.judge.judging import bearable_gap_us, between_moments_s, conformity, finding, limit_words, margin, shown, stated
from booth.judge.judging import worst_verdict as worst
from booth.shop.requirement import NoTerms
from booth.times import MINUTE, SECOND
from tests.judge.made_up import a_requirement, at, span

HUMID = a_requirement("relative_humidity", NoTerms(), "humidity", high=75.0)


@pytest.mark.parametrize(("minutes", "seconds"), [(1, 15), (5, 15), (10, 30), (20, 60), (40, 120), (240, 120)])
def test_a_span_bears_a_gap_of_a_twentieth_from_15_seconds_to_2_minutes(minutes: float, seconds: float) -> None:
    assert bearable_gap_us(minutes * MINUTE) == seconds * SECOND


def test_a_value_is_told_with_as_many_digits_as_it_takes() -> None:
    assert shown(74.9, HUMID) != shown(75.0, HUMID)
    assert shown(75.02, HUMID).startswith("75.0")
    # Beyond three more digits it isn't worth it, and still a value is told.
    assert shown(75.0000001, HUMID).startswith("75.0")
    assert shown(75.0, HUMID) == "75 %"


def test_how_far_inside_its_limits_a_value_lies() -> None:
    assert margin(21, 20, 30) == 1 and margin(28, 20, 30) == 2 and margin(31, None, 30) == -1 and margin(19, 20, None) == -1
    assert margin(None, 20, 30) is None and margin(21, None, None) is None


def test_limits_in_words() -> None:
    assert limit_words(None, 75.0, "humidity") == "at most 75 %"
    assert limit_words(20.0, None, "temperature") == "at least 20.0 °C"
    assert limit_words(20.0, 30.0, "temperature") == "20.0 °C to 30.0 °C"


def test_an_uncertainty_that_nobody_knows_is_not_told() -> None:
    assert stated(0.5) == 0.5 and stated(0.0) is None and stated(UNKNOWN) is None


def test_the_length_between_two_moments_is_as_sure_as_both() -> None:
    evidence = span(moments={"entered": 3 * SECOND, "inferred": 4 * SECOND})
    assert between_moments_s(evidence, "entered", "inferred") == 5
    assert between_moments_s(evidence, "signalled") == 0


def test_verdicts_put_together() -> None:
    met, unproven, missed = Verdict.MET, Verdict.UNPROVEN, Verdict.MISSED
    assert worst([met, unproven]) is unproven and worst([missed, unproven, met]) is missed and worst([met, met]) is met
    assert overall([]) is unproven and overall([met]) is met and overall([met, unproven]) is unproven
    assert overall([unproven, missed]) is missed


class TestProbability:
    """JCGM 106:2012, 7.3 and 7.4: the normal distribution about the measured value, U being two standard uncertainties."""

    def of(self, verdict: Verdict, guarded: bool = True, evidence: Evidence | None = None, **known) -> float | None:
        requirement = a_requirement("relative_humidity", NoTerms(), "humidity", high=75.0, guarded=guarded)
        known = {"margin": 1.0, "uncertainty": 2.0} | known
        return finding(requirement, evidence or span(), at(1000), verdict, "…", **known).probability

    def test_is_that_of_scipy(self) -> None:
        assert conformity(1.0, 2.0, None, 75.0) == pytest.approx(norm.cdf(1))
        assert conformity(-1.0, 2.0, 20.0, None) == pytest.approx(norm.cdf(-1))
        assert conformity(1.0, 2.0, 20.0, 23.0) == pytest.approx(norm.cdf(2) - norm.cdf(-1))

    def test_is_told_of_what_is_decided(self) -> None:
        assert self.of(Verdict.MET) == self.of(Verdict.MISSED) == pytest.approx(norm.cdf(1))
        assert self.of(Verdict.MET, probability=0.25) == 0.25  # the rule knew better

    def test_is_told_of_what_is_open_only_because_it_is_near(self) -> None:
        assert self.of(Verdict.UNPROVEN) == pytest.approx(norm.cdf(1))
        assert self.of(Verdict.UNPROVEN, guarded=False) is None
        assert self.of(Verdict.UNPROVEN, margin=9.0) is None and self.of(Verdict.UNPROVEN, margin=-9.0) is None

    def test_needs_a_value_its_uncertainty_and_an_end(self) -> None:
        assert self.of(Verdict.MET, margin=None) is None
        assert self.of(Verdict.MET, uncertainty=None) is None
        assert self.of(Verdict.MET, evidence=span(0, None)) is None


def test_a_finding_carries_what_was_asked_and_over_which_span() -> None:
    found = finding(HUMID, span(5, 20), at(12), Verdict.UNPROVEN, "…")
    assert (found.start, found.end, found.final, found.low, found.high) == (at(5), at(12), False, None, 75.0)
    assert (found.requirement, found.kind, found.step, found.source) == (HUMID.id, HUMID.kind, "step", "made-up sheet")
    assert finding(HUMID, span(5, 20), at(20), Verdict.MET, "…").final
    awaited = finding(HUMID, span(None, None), at(12), Verdict.UNPROVEN, "…")
    assert (awaited.start, awaited.end, awaited.final) == (None, None, False)
    assert math.isclose(finding(HUMID, span(5, 20), at(30), Verdict.MET, "…").end, at(20))
