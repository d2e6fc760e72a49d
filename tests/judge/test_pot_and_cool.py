"""Pot life and induction, the cool-down, and the waits after the bake."""

from __future__ import annotations

from dataclasses import replace

import pytest

from booth.judge.evidence import Evidence
from booth.judge.facts import Check, Mix
from booth.judge.finding import Finding, Window
from booth.judge.judge import judge
from booth.physics.pace import Pace
from booth.shop.requirement import FlashTerms, NoTerms, PotTerms, WaitTerms
from booth.times import MINUTE
from tests.judge.made_up import a_pass, a_requirement, at, line, part, series, span

LATER = 1000
POT = Pace.table([(20, 5400), (30, 2700)])
LIFE = Pace.fixed(2700)


def said(requirement, evidence: Evidence, minute: float = LATER) -> Finding | None:
    return judge(requirement, evidence, at(minute))


class TestPot:
    def pot(self, **known) -> Evidence:
        return span(20, 40, **({"mix": Mix("M-1", "clear", at(0), None, None, "pot-1"), "mix_named": "M-1"} | known))

    def life(self, pace: Pace = LIFE, driven_by=None):
        quantity, full = ("duration", pace.times_s[0]) if pace.is_fixed else ("number", 1.0)
        return a_requirement("pot_life", PotTerms(pace, driven_by), quantity, high=full)

    @pytest.mark.parametrize(
        ("limit_s", "as_of", "verdict", "sentence"),
        [
            (2400, LATER, "met", "Mix M-1 was used up to 40 min after mixing (limit at most 40 min)"),
            (2340, LATER, "missed", "Mix M-1 was used up to 40 min after mixing (limit at most 39 min)"),
            (2400, 30, "unproven", "Mix M-1 was in use 30 min after mixing (limit at most 40 min)"),
            (1500, 30, "missed", "Mix M-1 was in use 30 min after mixing (limit at most 25 min)"),
        ],
    )
    def test_fixed(self, limit_s, as_of, verdict: str, sentence: str) -> None:
        found = said(self.life(Pace.fixed(limit_s)), self.pot(), as_of)
        assert (found.verdict, found.sentence) == (verdict, sentence)
        assert (found.window.earliest, found.window.latest) == (None, at(limit_s / 60))

    def test_by_the_temperature_of_the_pot(self) -> None:
        def at_pot(temperature) -> Finding:
            return said(self.life(POT, "pot"), self.pot(series={"pot_temperature": series(temperature, 0, 40)}))

        tail = 5 / POT.times_s[-1]  # after the last reading the slowest pace is what is sure
        assert at_pot(30).observed == pytest.approx(40 / 45, abs=tail)
        assert at_pot(30).sentence == (
            "Mix M-1 was used up to 40 min after mixing, 89 % of it at the pot's temperature "
            "(limit at most 1 h 30 min to 45 min by the pot's temperature)"
        )
        assert at_pot(35).verdict == "missed"  # the pace is extrapolated above the table
        assert at_pot(10).observed == pytest.approx(40 / 90, abs=tail)  # and not below it

    def test_a_pot_that_was_used_up_in_time_has_no_end_of_its_life(self) -> None:
        """At 20 °C it lasts 90 min, and the coat ended after 81: it never got older. After 99 the moment is known."""
        pot = {"pot_temperature": series(20, 0, 120)}
        evidence = self.pot(series=pot, uncertainty={"pot_temperature": 0.8})
        live = said(self.life(POT, "pot"), replace(evidence, end=None), 80)
        assert (live.window.latest - at(90)) / MINUTE == pytest.approx(0, abs=0.2) and live.window.sooner_us > 0
        over = said(self.life(POT, "pot"), replace(evidence, end=at(81)))
        assert (over.verdict, over.window) == ("met", None)
        late = said(self.life(POT, "pot"), replace(evidence, end=at(99)))
        assert (late.verdict, late.window.latest) == ("missed", pytest.approx(at(90), abs=2))

    def test_a_pot_that_nobody_watched_is_unproven(self) -> None:
        found = said(self.life(POT, "pot"), self.pot())
        assert found.verdict == "unproven" and "the pot's temperature was not known throughout" in found.sentence

    @pytest.mark.parametrize(
        ("mix", "named", "sentence"),
        [
            (None, None, "Pot life is unproven: the coat names no mix"),
            (None, "M-9", "Pot life is unproven: mix M-9 is not in the journal"),
            (
                Mix("M-1", "clear", at(25), None, None, None),
                "M-1",
                "Pot life is unproven: mix M-1 is recorded as mixed after it was used",
            ),
        ],
    )
    def test_without_a_mix_to_go_by(self, mix, named, sentence: str) -> None:
        found = said(self.life(), self.pot(mix=mix, mix_named=named))
        assert (found.verdict, found.sentence) == ("unproven", sentence)

    @pytest.mark.parametrize(("limit_s", "verdict"), [(1200, "met"), (1260, "missed")])
    def test_induction(self, limit_s: float, verdict: str) -> None:
        requirement = a_requirement("induction", PotTerms(Pace.fixed(limit_s), None), "duration", low=limit_s)
        found = said(requirement, self.pot(), 21)
        assert (found.verdict, found.final) == (verdict, True)
        assert found.sentence == f"Mix M-1 was first used 20 min after mixing (limit at least {limit_s // 60} min)"


class TestCoolDown:
    MINIMUM = a_requirement("cool_minimum", FlashTerms(Pace.fixed(600), None), "duration", low=600.0)
    BELOW = a_requirement("cool_below", NoTerms(), "temperature", high=40.0)

    @pytest.mark.parametrize(
        ("end", "as_of", "verdict", "sentence"),
        [
            (10, LATER, "met", "Cooled for 10 min (limit at least 10 min)"),
            (9, LATER, "missed", "Cooled for 9 min (limit at least 10 min)"),
            (None, 9, "unproven", "So far: Cooled for 9 min (limit at least 10 min)"),
            (None, 11, "met", "So far: Cooled for 11 min (limit at least 10 min)"),
        ],
    )
    def test_long_enough(self, end, as_of, verdict: str, sentence: str) -> None:
        found = said(self.MINIMUM, span(0, end), as_of)
        assert (found.verdict, found.sentence) == (verdict, sentence)

    @pytest.mark.parametrize(
        ("shape", "guarded", "end", "verdict", "sentence"),
        [
            (40, False, 10, "met", "The hottest part (roof) was at 40.0 °C at the end (limit at most 40.0 °C)"),
            (41, False, 10, "missed", "The hottest part (roof) was at 41.0 °C at the end (limit at most 40.0 °C)"),
            (
                41,
                True,
                10,
                "unproven",
                "The hottest part (roof) was at 41.0 °C at the end, which is within the measurement uncertainty "
                "(limit at most 40.0 °C)",
            ),
            (43, True, 10, "missed", "The hottest part (roof) was at 43.0 °C at the end (limit at most 40.0 °C)"),
            (41, False, None, "unproven", "So far: The hottest part (roof) was at 41.0 °C now (limit at most 40.0 °C)"),
        ],
    )
    def test_cold_enough(self, shape, guarded: bool, end, verdict: str, sentence: str) -> None:
        requirement = a_requirement("cool_below", NoTerms(), "temperature", high=40.0, guarded=guarded)
        parts = (part(shape, end=10), part(30, "sills", "steel", end=10))
        found = said(requirement, span(0, end, parts=parts, uncertainty={"part_temperature": 2.0}), 10)
        assert (found.verdict, found.sentence) == (verdict, sentence)

    def test_the_last_part_to_be_cold_may_be_one_that_is_expected_first(self) -> None:
        """The sills are nearly there, but fall so slowly that they may never be."""
        roof, sills = part(line((0, 46.5), (6, 42)), end=6), part(line((0, 40.74), (6, 40.2)), "sills", end=6)
        both, surely, perhaps = (
            said(self.BELOW, span(0, None, parts=one), 6).window for one in ((roof, sills), (roof,), (sills,))
        )
        assert perhaps.earliest < surely.earliest and perhaps.later_us is None and surely.later_us is not None
        assert (both.earliest, both.later_us) == (surely.earliest, None)

    @pytest.mark.parametrize("shape", [55, series(55, 0, 3)])
    def test_a_part_that_stands_hot_or_is_silent_is_not_known_to_get_cold(self, shape) -> None:
        found = said(self.BELOW, span(0, None, parts=(part(shape), part(30, "sills"))), 20)
        assert found.window == Window(None, None)
        silent = said(self.BELOW, span(0, None, parts=(part(series(55, 0, 3)),)), 20)
        assert silent.window == Window(None, None)
        assert said(self.BELOW, span(0, 20, parts=(part(shape),)), 20).window is None

    def test_a_silent_probe(self) -> None:
        speaking = part(30, end=10)
        silent = part(series(30, 0, 9), "sills")
        found = said(self.BELOW, span(0, 10, parts=(speaking, silent)))
        assert found.verdict == "unproven" and "but sills told nothing" in found.sentence
        assert said(self.BELOW, span(0, 10, parts=(part(50, end=10), silent))).verdict == "missed"
        assert said(self.BELOW, span(0, 10, parts=(silent,))).verdict == "unproven"
        assert "no part probe was assigned" in said(self.BELOW, span(0, 10)).sentence
        assert said(self.BELOW, span(None, None)) is None


class TestWait:
    LIMIT = a_requirement("wait", WaitTerms("de-mask", Pace.fixed(1200)), "duration", low=1200.0)

    @pytest.mark.parametrize(
        ("recorded", "verdict", "sentence"),
        [
            (75, "met", "De mask 20 min after the bake (limit at least 20 min)"),
            (70, "missed", "De mask 15 min after the bake, 5 min too early (limit at least 20 min)"),
        ],
    )
    def test_from_the_end_of_the_bake_to_the_first_record(self, recorded: float, verdict: str, sentence: str) -> None:
        checks = tuple(Check("de-mask", "passed", at(minute), None) for minute in (-5, recorded, 90))
        found = said(self.LIMIT, span(55, 70, before=(a_pass(0, 55),), checks=checks))
        assert (found.verdict, found.final, found.sentence) == (verdict, True, sentence)

    def test_work_during_the_bake_did_not_wait(self) -> None:
        checks = tuple(Check("de-mask", "passed", at(minute), None) for minute in (40, 90))
        found = said(self.LIMIT, span(55, 70, before=(a_pass(0, 55),), checks=checks))
        assert (found.verdict, found.final) == ("missed", True)
        assert found.sentence == "De mask during the bake, 15 min before its end (limit at least 20 min)"

    def test_nothing_to_say_without_a_record_after_the_bake(self) -> None:
        bake = (a_pass(0, 55),)
        assert said(self.LIMIT, span(55, 70, before=bake)) is None
        assert said(self.LIMIT, span(55, 70, before=bake, checks=(Check("de-mask", "passed", at(-5), None),))) is None
        assert said(self.LIMIT, span(55, 70, checks=(Check("de-mask", "passed", at(80), None),))) is None

    def test_without_the_end_of_the_bake(self) -> None:
        evidence = span(None, None, before=(a_pass(0, None),), checks=(Check("de-mask", "passed", at(80), None),))
        assert said(self.LIMIT, evidence).sentence == "De mask is unproven: the end of the bake was not recorded"
