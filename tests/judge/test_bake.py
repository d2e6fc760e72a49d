"""The bake: its start, its heat-up and its dwell."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from booth.judge.evidence import UNKNOWN
from booth.judge.finding import Finding, Verdict
from booth.judge.judge import judge
from booth.physics.pace import Pace
from booth.shop.requirement import (
    DwellTerms,
    HeatUpTerms,
    StartTerms,
)
from booth.times import MINUTE
from tests.judge.made_up import a_pass, a_requirement, at, line, part, series, span, without

LATER = 1000
CASES = {
    case["id"]: case
    for case in json.loads((Path(__file__).resolve().parents[1] / "data/check_values.json").read_text(encoding="utf-8"))["cases"]
}
NO_PROBE = "no part probe was assigned to this van, and no qualified bake stands in for one"
CLEAR = Pace.table([(60, 1800), (70, 1200)])


def said(requirement, evidence, minute: float = LATER) -> Finding | None:
    return judge(requirement, evidence, at(minute))


class TestStart:
    LIMIT = a_requirement("bake_start", StartTerms(10 * MINUTE, 30 * MINUTE), "duration", low=600.0, high=1800.0)
    COATED = (a_pass(-10, -5), a_pass(-4, 0))

    @pytest.mark.parametrize(
        ("begin", "as_of", "verdict", "final", "sentence"),
        [
            (12, LATER, "met", True, "The bake started 12 min after the last coat (limit {})"),
            (10, LATER, "met", True, "The bake started 10 min after the last coat (limit {})"),
            (30, LATER, "met", True, "The bake started 30 min after the last coat (limit {})"),
            (9, LATER, "missed", True, "The bake started 9 min after the last coat, 1 min too early (limit {})"),
            (44, LATER, "missed", True, "The bake started 44 min after the last coat, 14 min too late (limit {})"),
            (None, 5, "unproven", False, "The bake has not started 5 min after the last coat (limit {})"),
            (None, 30, "unproven", False, "The bake has not started 30 min after the last coat (limit {})"),
            (None, 31, "missed", False, "The bake has not started 31 min after the last coat, 1 min too late (limit {})"),
        ],
    )
    def test_between_earliest_and_latest(self, begin, as_of, verdict: str, final: bool, sentence: str) -> None:
        found = said(self.LIMIT, span(begin, None, before=self.COATED), as_of)
        assert (found.verdict, found.final) == (verdict, final)
        assert found.sentence == sentence.format("10 min at the earliest and 30 min at the latest")
        assert (found.window.earliest, found.window.latest) == (at(10), at(30))

    def test_silence_does_not_postpone_the_miss(self) -> None:
        """No reading is in the evidence at all: the moment itself makes the miss."""
        evidence = span(None, None, before=self.COATED)
        assert judge(self.LIMIT, evidence, at(30)).verdict is Verdict.UNPROVEN
        assert judge(self.LIMIT, evidence, at(30) + 1).verdict is Verdict.MISSED

    def test_a_closed_round_without_a_bake(self) -> None:
        evidence = span(None, None, before=self.COATED, closed=at(20))
        found = said(self.LIMIT, evidence, 25)
        assert (found.verdict, found.final) == ("unproven", True)
        assert found.sentence.startswith("No bake was recorded until 20 min after the last coat")
        assert said(self.LIMIT, evidence, 100_000) == found

    def test_before_the_last_coat_has_ended(self) -> None:
        open_coat = (a_pass(0, None),)
        assert said(self.LIMIT, span(None, None)) is None
        assert said(self.LIMIT, span(None, None, before=open_coat)) is None
        for before in (open_coat, ()):
            found = said(self.LIMIT, span(12, None, before=before))
            assert found.sentence == "The start of the bake is unproven: the end of the last coat was not recorded"


class TestHeatUp:
    def limit(self, guarded: bool = False):
        return a_requirement("heat_up", HeatUpTerms(60.0, 35 * MINUTE), "duration", high=2100.0, guarded=guarded)

    @pytest.mark.parametrize(
        ("shape", "as_of", "verdict", "final", "sentence"),
        [
            (line((0, 20), (30, 65)), LATER, "met", True, "The coldest part (sills) reached 60.0 °C after 26 min 40 s ({})"),
            (line((0, 20), (30, 65)), 27, "met", True, "The coldest part (sills) reached 60.0 °C after 26 min 40 s ({})"),
            (
                line((0, 20), (40, 60)),
                LATER,
                "missed",
                True,
                "The coldest part (sills) reached 60.0 °C after 40 min, 5 min too late ({})",
            ),
            (
                line((0, 20), (40, 60)),
                36,
                "missed",
                True,
                "The coldest part (sills) has not reached 60.0 °C for certain: its last reading was 56.0 °C ({})",
            ),
            (
                line((0, 20), (40, 60)),
                30,
                "unproven",
                False,
                "So far: The coldest part (sills) has not reached 60.0 °C for certain: its last reading was 50.0 °C ({})",
            ),
        ],
    )
    def test_the_coldest_part_decides(self, shape, as_of, verdict: str, final: bool, sentence: str) -> None:
        quick = part(line((0, 20), (10, 70)))
        slow = series(shape, 0, 60).until(at(as_of))
        found = said(self.limit(), span(0, 60, parts=(quick, part(slow, "sills", "steel"))), as_of)
        assert (found.verdict, found.final, found.zone) == (verdict, final, "sills")
        assert found.sentence == sentence.format("limit 60.0 °C within 35 min of the start of the bake")
        assert (found.window.earliest, found.window.latest) == (None, at(35))

    def test_a_second_probe_in_a_zone_counts_too(self) -> None:
        cold, hot = part(line((0, 20), (60, 50))), part(line((0, 20), (10, 70)))
        for parts in ((cold, hot), (hot, cold)):
            assert said(self.limit(), span(0, 60, parts=parts)).verdict == "missed"

    def test_it_is_missed_at_its_moment_though_the_probe_says_nothing_new(self) -> None:
        quiet = part(series(line((0, 20), (60, 50)), 0, 34.9))
        assert said(self.limit(), span(0, None, parts=(quiet,)), 35).verdict == "unproven"
        assert judge(self.limit(), span(0, None, parts=(quiet,)), at(35) + 1).verdict == "missed"

    def test_out_of_sight(self) -> None:
        readings = series(line((0, 20), (40, 60)), 0, 60)
        blind = without(readings, 33, 45)
        found = said(self.limit(), span(0, 60, parts=(part(blind),)))
        assert found.verdict == "unproven" and "when exactly was out of sight" in found.sentence
        assert said(self.limit(), span(0, 60, parts=(part(series(25, 0, 0)),))).sentence == (
            "The coldest part (roof) has not reached 60.0 °C for certain: it had no reading "
            "(limit 60.0 °C within 35 min of the start of the bake)"
        )
        brief = without(readings, 5, 6)  # 50 s unseen: steel doesn't jump and come back
        assert said(self.limit(), span(0, 60, parts=(part(brief),))).verdict == "missed"

    def test_guarded(self) -> None:
        """Just reached, and just not reached, are both too near to tell."""
        for top, simple, guarded in (
            (62, "met", "met"),
            (60.5, "met", "unproven"),
            (59.5, "missed", "unproven"),
            (58, "missed", "missed"),
        ):
            evidence = span(0, 60, parts=(part(line((0, 20), (20, top))),), uncertainty={"part_temperature": 1.0})
            assert said(self.limit(), evidence).verdict == simple
            assert said(self.limit(guarded=True), evidence).verdict == guarded

    def test_already_hot_at_the_start(self) -> None:
        found = said(self.limit(), span(1, 60, parts=(part(65),)))
        assert (found.verdict, found.observed) == ("met", 0.0)

    def test_no_probe(self) -> None:
        assert said(self.limit(), span(0, 60)).sentence == f"Heat-up is unproven: {NO_PROBE}"
        assert said(self.limit(), span(None, None)) is None


class TestDwell:
    def limit(self, rule="pause", pace: Pace = CLEAR, below=60.0, guarded: bool = False, driven_by="part"):
        return a_requirement("dwell", DwellTerms(pace, driven_by, rule, below), "number", low=1.0, guarded=guarded)

    def test_a_ramp_against_quadrature(self) -> None:
        """cure-loglin's schedule (20 min at 160 °C, 10 min at 180 °C), ramped through, by scipy's quadrature."""
        schedule = Pace.table([(160, 1200), (180, 600)])
        ramp = line((0, 160), (20, 180))

        def rate(minute: float) -> float:
            kelvin = 160 + minute + 273.15
            share = (1 / 433.15 - 1 / kelvin) / (1 / 433.15 - 1 / 453.15)
            return 1 / (20 * math.exp(share * math.log(0.5)))

        arrhenius = CASES["cure-loglin"]["expected"][1]
        assert 1 / rate(10) == pytest.approx(arrhenius, abs=CASES["cure-loglin"]["tolerance"])
        published, _ = quad(rate, 0, 20)
        for period in (1, 5):
            found = said(self.limit(pace=schedule, below=160.0), span(0, 20, parts=(part(series(ramp, 0, 20, period)),)))
            # The last reading is held to the end: at most one sampling period at a pace that is not quite the true one.
            assert found.observed == pytest.approx(published, rel=2e-4)

    @pytest.mark.parametrize(
        ("minutes", "as_of", "verdict", "sentence"),
        [
            (30, LATER, "met", "The coldest part (sills) had 100 % of its dwell (limit 30 min at 60 °C, 20 min at 70 °C)"),
            (24, LATER, "missed", "The coldest part (sills) had 80 % of its dwell (limit 30 min at 60 °C, 20 min at 70 °C)"),
            (
                None,
                24,
                "unproven",
                "So far: The coldest part (sills) had 80 % of its dwell (limit 30 min at 60 °C, 20 min at 70 °C)",
            ),
            (None, 31, "met", "So far: The coldest part (sills) had 103 % of its dwell (limit 30 min at 60 °C, 20 min at 70 °C)"),
        ],
    )
    def test_time_at_temperature(self, minutes, as_of, verdict: str, sentence: str) -> None:
        parts = (part(70, "roof"), part(series(60, 0, 60).until(at(as_of)), "sills"))
        found = said(self.limit(), span(0, minutes, parts=parts), as_of)
        assert (found.verdict, found.zone, found.sentence) == (verdict, "sills", sentence)
        if as_of == 24:
            assert (found.window.earliest, found.window.latest) == (at(30), None)

    def test_the_last_of_several_parts_may_be_one_that_is_done_first_by_what_is_expected(self) -> None:
        """A roof that lies so near 60 °C that it may fall below it, and sills a little later but surer: perhaps never."""
        roof, sills = part(60.3, end=20), part(line((0, 40), (4, 62.5)), "sills", end=20)
        known = {"uncertainty": {"part_temperature": 1.0}}
        alone = [said(self.limit(), span(0, None, parts=(one,), **known), 20).window for one in (roof, sills)]
        assert alone[0].earliest < alone[1].earliest and alone[0].later_us is None and alone[1].later_us is not None
        both = said(self.limit(), span(0, None, parts=(roof, sills), **known), 20).window
        assert (both.earliest, both.later_us) == (alone[1].earliest, None)

    def test_a_dwell_that_ended_too_soon_has_no_moment(self) -> None:
        assert said(self.limit(), span(0, 20, parts=(part(60),))).window is None
        assert said(self.limit(), span(0, 40, parts=(part(60),))).window.earliest == pytest.approx(at(30), abs=2)

    def test_below_the_table_nothing_is_earned_and_above_it_no_more_than_at_its_end(self) -> None:
        assert said(self.limit(), span(0, 60, parts=(part(59.9),))).observed == 0.0
        assert said(self.limit(), span(0, 20, parts=(part(90),))).observed == pytest.approx(1.0)

    @pytest.mark.parametrize(
        ("rule", "end", "verdict", "words"),
        [
            ("pause", 36, "met", "1 interruption paused the sum"),
            ("go_on", 36, "met", "1 interruption didn't stop the sum"),
            ("restart", 36, "missed", "1 interruption started the sum anew"),
            ("restart", 56, "met", "1 interruption started the sum anew"),
            ("not_stated", 36, "unproven", "1 interruption not covered by the sheet: the supervisor decides"),
            ("not_stated", 56, "met", "1 interruption not covered by the sheet: the supervisor decides"),
            ("not_stated", 30, "missed", "1 interruption not covered by the sheet: the supervisor decides"),
        ],
    )
    def test_interruptions(self, rule: str, end: float, verdict: str, words: str) -> None:
        """60 °C but for five minutes from 20 to 25."""
        readings = series(lambda m: np.where((m >= 20) & (m < 25), 50, 60), 0, 60)
        found = said(self.limit(rule), span(0, end, parts=(part(readings),)))
        assert found.verdict == verdict, found.sentence
        assert words in found.sentence

    def test_done_before_the_interruption_is_done(self) -> None:
        readings = series(lambda m: np.where((m >= 40) & (m < 45), 50, 60), 0, 60)
        assert said(self.limit("restart"), span(0, 50, parts=(part(readings),))).verdict == "met"

    def test_cooling_down_in_the_end_is_no_interruption(self) -> None:
        readings = series(lambda m: np.where(m >= 31, 40, 60), 0, 60)
        found = said(self.limit("restart"), span(0, 40, parts=(part(readings),)))
        assert found.verdict == "met" and "interruption" not in found.sentence

    def test_gaps_at_their_least_and_most_favourable(self) -> None:
        readings = series(60, 0, 60)
        gap = part(without(readings, 10, 20))
        for end, verdict in ((24, "missed"), (32, "unproven"), (41, "met")):
            assert said(self.limit(), span(0, end, parts=(gap,))).verdict == verdict
        assert said(self.limit("restart"), span(0, 41, parts=(gap,))).verdict == "unproven"  # it may have been interrupted
        assert (
            "what is uncertain or wasn't measured might make up for the rest"
            in said(self.limit(), span(0, 32, parts=(gap,))).sentence
        )

    def test_guarded(self) -> None:
        for temperature, simple, guarded in ((62, "met", "met"), (60, "met", "unproven"), (58, "missed", "missed")):
            evidence = span(0, 31, parts=(part(temperature),), uncertainty={"part_temperature": 1.0})
            assert said(self.limit(), evidence).verdict == simple
            assert said(self.limit(guarded=True), evidence).verdict == guarded
        nobody_knows = span(0, 31, parts=(part(65),), uncertainty={"part_temperature": UNKNOWN})
        assert said(self.limit(guarded=True), nobody_knows).verdict == "unproven"

    def test_what_drives_it(self) -> None:
        evidence = span(0, 40, parts=(part(50),), series={"air_temperature": series(65, 0, 40)})
        assert said(self.limit(driven_by="air"), evidence).verdict == "met"
        assert said(self.limit(), evidence).verdict == "missed"
        assert said(self.limit(), span(0, 40)).sentence == f"Dwell is unproven: {NO_PROBE}"
        assert said(self.limit(), span(None, None)) is None
