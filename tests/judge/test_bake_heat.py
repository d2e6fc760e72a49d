"""Too much heat: peak, heating rate and over-bake; and the purge before the bake."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from booth.judge.evidence import Heated
from booth.judge.finding import Finding
from booth.judge.judge import judge
from booth.physics.pace import Pace
from booth.shop.requirement import (
    NoTerms,
    OverBakeTerms,
    PeakTerms,
    RateTerms,
)
from booth.times import MINUTE, SECOND
from tests.judge.made_up import a_requirement, at, line, part, series, span, without

LATER = 1000
CASES = {
    case["id"]: case
    for case in json.loads((Path(__file__).resolve().parents[1] / "data/check_values.json").read_text(encoding="utf-8"))["cases"]
}
NO_PROBE = "no part probe was assigned to this van, and no qualified bake stands in for one"
CLEAR = Pace.table([(60, 1800), (70, 1200)])


def said(requirement, evidence, minute: float = LATER) -> Finding | None:
    return judge(requirement, evidence, at(minute))


class TestPeak:
    LIMIT = a_requirement("peak", PeakTerms("fibreglass"), "temperature", high=82.0)
    GUARDED = a_requirement("peak", PeakTerms("fibreglass"), "temperature", high=82.0, guarded=True)

    @pytest.mark.parametrize(
        ("shape", "end", "verdict", "sentence"),
        [
            (82, 60, "met", "The hottest part of fibreglass reached 82.0 °C (limit at most 82.0 °C)"),
            (70, None, "unproven", "So far: The hottest part of fibreglass reached 70.0 °C (limit at most 82.0 °C)"),
            (
                lambda m: np.where((m >= 20) & (m < 21), 82.1, 70),
                60,
                "missed",
                "The hottest part of fibreglass reached 82.1 °C, and was too hot for 1 min (limit at most 82.0 °C)",
            ),
            (
                lambda m: np.where((m >= 20) & (m < 21), 82.04, 70),
                None,
                "missed",
                "The hottest part of fibreglass reached 82.04 °C, and was too hot for 1 min (limit at most 82.0 °C)",
            ),
        ],
    )
    def test_one_reading_too_hot_is_a_miss(self, shape, end, verdict: str, sentence: str) -> None:
        found = said(self.LIMIT, span(0, end, parts=(part(shape), part(99, "sills", "steel"))), 60)
        assert (found.verdict, found.sentence) == (verdict, sentence)

    def test_gaps_probes_and_guard_band(self) -> None:
        blind = part(without(series(70, 0, 60), 20, 25))
        found = said(self.LIMIT, span(0, 60, parts=(blind,)))
        assert found.verdict == "unproven" and "but a probe was silent for 4 min 50 s" in found.sentence
        assert said(self.LIMIT, span(0, 60, parts=(blind, part(83)))).verdict == "missed"
        near = span(0, 60, parts=(part(81.5),), uncertainty={"part_temperature": 1.0})
        assert said(self.LIMIT, near).verdict == "met"
        assert said(self.GUARDED, near).verdict == "unproven"
        assert "within the measurement uncertainty of the limit" in said(self.GUARDED, near).sentence
        assert said(self.LIMIT, span(0, 60, parts=(part(70, "sills", "steel"),))).sentence == (
            "Peak on fibreglass is unproven: no part probe sat on it, and no qualified bake stands in for one"
        )
        assert said(self.LIMIT, span(None, None)) is None


class TestHeatingRate:
    def limit(self, guarded: bool = False):
        return a_requirement("heating_rate", RateTerms(3 * MINUTE), "heating_rate", high=5.0, guarded=guarded)

    @pytest.mark.parametrize(
        ("top", "end", "verdict", "sentence"),
        [
            (60, 20, "met", "The fastest part (roof) warmed by 4.0 K/min (limit at most 5.0 K/min over 3 min)"),
            (60, None, "unproven", "So far: The fastest part (roof) warmed by 4.0 K/min (limit at most 5.0 K/min over 3 min)"),
            (80, None, "missed", "So far: The fastest part (roof) warmed by 6.0 K/min (limit at most 5.0 K/min over 3 min)"),
        ],
    )
    def test_over_its_length_of_time(self, top, end, verdict: str, sentence: str) -> None:
        parts = (part(line((0, 20), (10, top))), part(20, "sills"))
        found = said(self.limit(), span(0, end, parts=parts), 20)
        assert (found.verdict, found.sentence) == (verdict, sentence)

    def test_noise_is_no_rate_and_gaps_are_no_rise(self) -> None:
        noisy = series(lambda m: 20 + 0.5 * np.sign(np.sin(m * 40)), 0, 20)
        assert said(self.limit(), span(0, 20, parts=(part(noisy),))).observed < 0.5
        jump = without(series(lambda m: np.where(m < 8, 20, 60), 0, 20), 6, 10)
        found = said(self.limit(), span(0, 20, parts=(part(jump),)))
        assert found.verdict == "unproven" and "but a probe was silent for 3 min 50 s" in found.sentence
        assert "too few readings" in said(self.limit(), span(0, 2, parts=(part(20, end=2),))).sentence

    def test_guarded_and_no_probe(self) -> None:
        """What two readings of one probe have in common drops out of their difference; what they scatter doesn't."""
        climb = line((0, 20), (10, 68))
        for noise, guarded in ((0.0, "met"), (0.1, "unproven")):
            shape = lambda m, noise=noise: climb(m) + noise * np.sign(np.sin(m * 40))  # noqa: E731
            near = span(0, 20, parts=(part(shape),), uncertainty={"part_temperature": 1.0})
            assert said(self.limit(), near).verdict == "met"
            assert said(self.limit(guarded=True), near).verdict == guarded
        assert said(self.limit(), span(0, 20)).sentence == f"Heating rate is unproven: {NO_PROBE}"


class TestOverBake:
    TRIANGLE = staticmethod(line((0, 20), (16, 180), (26, 180), (42, 20)))

    def limit(self, at_c: float, most_min: float, guarded: bool = False):
        terms = OverBakeTerms(at_c, round(most_min * MINUTE))
        return a_requirement("over_bake", terms, "duration", high=most_min * 60, guarded=guarded)

    @pytest.mark.parametrize("period_s", [5, 60])
    def test_time_above_a_threshold_as_geometry_has_it(self, period_s: float) -> None:
        """cure-TAT: ramp 20 to 180 °C at 10 K/min, hold 10 min, cool at 10 K/min: 14.0 min at or above 160 °C."""
        case = CASES["cure-TAT"]
        readings = series(self.TRIANGLE, 0, 42, period_s, max_age=90 * SECOND)
        found = said(self.limit(case["inputs"]["thr"], 15), span(0, 42, parts=(part(readings),)))
        assert found.observed / 60 == pytest.approx(case["expected"], abs=1e-6)
        assert found.verdict == "met"
        assert found.sentence == "The hottest part (roof) stood 14 min at or above 160.0 °C (limit at most 15 min)"
        assert said(self.limit(160, 13.9), span(0, 42, parts=(part(readings),))).verdict == "missed"

    def test_added_up_over_rounds(self) -> None:
        earlier = Heated(at(-200), at(-158), (part(series(lambda m: self.TRIANGLE(m + 200), -200, -158)),))
        evidence = span(0, 42, parts=(part(self.TRIANGLE, end=42), part(20, "sills", end=42)), earlier=(earlier,))
        found = said(self.limit(160, 27), evidence)
        assert found.verdict == "missed"
        assert found.sentence == ("The hottest part (roof) stood 28 min at or above 160.0 °C over 2 bakes (limit at most 27 min)")
        # Nobody knows how hot the sills were in the earlier bake.
        assert said(self.limit(160, 41), evidence).verdict == "unproven"
        assert said(self.limit(160, 42), evidence).verdict == "met"

    def test_every_probe_of_a_zone_counts(self) -> None:
        for parts in ((part(165), part(20)), (part(20), part(165))):
            assert said(self.limit(160, 50), span(0, 60, parts=parts)).verdict == "missed"

    def test_open_gaps_guard_band_and_no_probe(self) -> None:
        open_end = said(self.limit(160, 15), span(0, None, parts=(part(165, end=10),)), 10)
        assert (open_end.verdict, open_end.final) == ("unproven", False)
        assert open_end.sentence.startswith("So far: The hottest part (roof) stood 9 min 55 s")  # to its last reading
        assert said(self.limit(160, 5), span(0, None, parts=(part(165, end=10),)), 10).verdict == "missed"
        gap = said(self.limit(160, 15), span(0, 42, parts=(part(without(series(self.TRIANGLE, 0, 42), 20, 24)),)))
        assert gap.verdict == "met"  # 14 min at the most
        gap = said(self.limit(160, 13), span(0, 42, parts=(part(without(series(self.TRIANGLE, 0, 42), 20, 24)),)))
        assert gap.verdict == "unproven" and gap.sentence.endswith("and roof may have stood up to 14 min (limit at most 13 min)")
        near = span(0, 42, parts=(part(159.5, end=42),), uncertainty={"part_temperature": 1.0})
        assert said(self.limit(160, 15), near).verdict == "met"
        assert said(self.limit(160, 15, guarded=True), near).verdict == "unproven"
        assert said(self.limit(160, 15), span(0, 42)).sentence == f"Over-bake is unproven: {NO_PROBE}"


class TestPurge:
    LIMIT = a_requirement("purge_volumes", NoTerms(), "volumes", low=4.0)

    def evidence(self, flow, end: float | None = 2, **known):
        return span(0, end, series={"air_flow": flow}, **({"volume_m3": 190.0} | known))

    @pytest.mark.parametrize(
        ("flow", "end", "verdict", "sentence"),
        [
            (19, 2, "met", "Flow recorded over 2 min equals 12.0 volumes (limit at least 4.0 volumes)"),
            (6, 2, "missed", "Flow recorded over 2 min equals 3.8 volumes (limit at least 4.0 volumes)"),
            (6.3, 2, "missed", "Flow recorded over 2 min equals 3.98 volumes (limit at least 4.0 volumes)"),
            (6, None, "unproven", "So far: Flow recorded over 1 min 55 s equals 3.6 volumes (limit at least 4.0 volumes)"),
            (19, None, "met", "So far: Flow recorded over 1 min 55 s equals 11.5 volumes (limit at least 4.0 volumes)"),
        ],
    )
    def test_volumes(self, flow: float, end, verdict: str, sentence: str) -> None:
        found = said(self.LIMIT, self.evidence(series(flow, 0, 2), end), LATER if end else 115 / 60)
        assert (found.verdict, found.sentence) == (verdict, sentence)

    def test_what_nobody_saw_may_have_been_as_much_as_the_most_that_was_seen(self) -> None:
        gap = without(series(7, 0, 2), 0.5, 1)
        found = said(self.LIMIT, self.evidence(gap))
        assert found.verdict == "unproven" and ", with no reading for 35 s" in found.sentence
        assert said(self.LIMIT, self.evidence(series(7, 0, 0))).verdict == "unproven"

    @pytest.mark.parametrize(("end", "moments"), [(2, 2), (None, 1)])
    def test_a_purge_that_still_runs_has_one_moment_that_is_not_known_exactly(self, end, moments: int) -> None:
        """V = Q t / V0: by GUM 5.1.2 the uncertainties of a length of time and of a flow add as squares."""
        known = {"uncertainty": {"air_flow": 0.5}, "moments": {"entered": 10 * SECOND}}
        found = said(self.LIMIT, self.evidence(series(19, 0, 3), end, **known), LATER if end else 2)
        by_flow, by_time = 0.5 * 120 / 190, 19 * 10 * math.sqrt(moments) / 190
        assert found.uncertainty == pytest.approx(math.hypot(by_flow, by_time), rel=1e-3)

    def test_guarded_and_what_is_lacking(self) -> None:
        guarded = a_requirement("purge_volumes", NoTerms(), "volumes", low=4.0, guarded=True)
        near = self.evidence(series(6.5, 0, 2), uncertainty={"air_flow": 0.5})
        assert said(self.LIMIT, near).verdict == "met"
        assert said(guarded, near).verdict == "unproven"
        assert said(self.LIMIT, span(0, 2, volume_m3=190.0)).sentence == (
            "The fresh air before the bake is unproven: no point of this booth measures the air flow"
        )
        assert said(self.LIMIT, self.evidence(series(6, 0, 2), volume_m3=None)).sentence == (
            "The fresh air before the bake is unproven: the booth's volume is not stated"
        )
        assert said(self.LIMIT, span(None, None)) is None
