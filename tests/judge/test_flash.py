"""Flash-off: the time between two coats, per zone, and the clock that tells it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from booth.judge.evidence import Evidence
from booth.judge.finding import Finding
from booth.judge.judge import judge
from booth.physics.pace import Pace
from booth.shop.requirement import ClimateLimit, FlashTerms
from tests.judge.made_up import a_pass, a_requirement, at, line, part, series, span, without

LATER = 1000
SEALER = Pace.table([(15, 1800), (20, 1200), (30, 720)])
POT = Pace.table([(20, 5400), (30, 2700)])
QUARTER = Pace.fixed(900)
HUMID = (ClimateLimit("relative_humidity", None, 75.0),)


def flash(kind: str, pace: Pace = QUARTER, driven_by=None, conditions=(), rule="go_on", **known):
    quantity, full = ("duration", pace.times_s[0]) if pace.is_fixed else ("number", 1.0)
    side = {"low": full} if kind == "flash_minimum" else {"high": full}
    return a_requirement(kind, FlashTerms(pace, driven_by, conditions, rule), quantity, **side, **known)


def said(requirement, evidence: Evidence, minute: float = LATER) -> Finding | None:
    return judge(requirement, evidence, at(minute))


COAT = (a_pass(0, 10),)


def after(coat=COAT, following: float | None = 30, start: float = 10, **known) -> Evidence:
    """The flash-off after a coat from 0 to 10 minutes, up to the next coat."""
    return span(start, following, before=coat, following=None if following is None else at(following), **known)


class TestWhatDrivesTheClock:
    def test_the_air(self) -> None:
        """At a steady 20 °C the sheet's time is 20 min; half of it is half of the flash-off. U moves it by the pace's slope."""
        found = said(
            flash("flash_minimum", SEALER, "air"),
            after(following=20, series={"air_temperature": series(20, 10, 20)}, uncertainty={"air_temperature": 0.5}),
        )
        assert (found.verdict, found.observed, found.margin) == ("missed", pytest.approx(0.5), pytest.approx(-0.5))
        slope = 600 * (SEALER.pace_per_s(20.5, "minimum") - SEALER.pace_per_s(19.5, "minimum")) / 2
        assert found.uncertainty == pytest.approx(slope)

    def test_air_that_nobody_measures_drives_nothing(self) -> None:
        assert said(flash("flash_minimum", SEALER, "air"), after(following=20)).observed == 0

    def test_the_pot(self) -> None:
        """A pot at 25 °C against one at 25 ± 1 °C: half the difference of what either makes of ten minutes."""
        pot = {"pot_temperature": series(25, 10, 20), "air_temperature": series(40, 10, 20)}
        found = said(flash("flash_minimum", POT, "pot"), after(following=20, series=pot, uncertainty={"pot_temperature": 1.0}))
        assert found.observed == pytest.approx(600 * POT.pace_per_s(25, "minimum"))
        slope = 600 * (POT.pace_per_s(26, "minimum") - POT.pace_per_s(24, "minimum")) / 2
        assert found.uncertainty == pytest.approx(slope)

    def test_the_slowest_part_and_not_the_air(self) -> None:
        parts = (part(20, "roof"), part(15, "sills"))
        air = {"air_temperature": series(30, 0, 60)}
        found = said(flash("flash_minimum", SEALER, "part"), after(following=40, parts=parts, series=air))
        assert found.observed == pytest.approx(1.0, abs=1e-6)  # 30 min at 15 °C

    @pytest.mark.parametrize("kind", ["flash_minimum", "flash_maximum"])
    def test_a_fixed_time_is_as_sure_as_its_two_ends(self, kind: str) -> None:
        """GUM 5.1.2: two ends that have nothing to do with each other, each to 6 s, give √2 times 6 s."""
        found = said(flash(kind), after(following=30, moments={"entered": 6_000_000}))
        assert found.uncertainty == pytest.approx(6 * math.sqrt(2))
        assert found.observed == (1200 if kind == "flash_minimum" else 1800)

    def test_while_the_next_coat_is_awaited_only_one_end_is_unsure(self) -> None:
        found = said(flash("flash_minimum"), after(following=None, moments={"entered": 6_000_000}), 20)
        assert found.uncertainty == pytest.approx(6)


class TestFlashMinimum:
    @pytest.mark.parametrize(
        ("following", "as_of", "verdict", "final", "sentence"),
        [
            (25, LATER, "met", True, "Flashed for 15 min (limit at least 15 min; no zone events: counted from the coat's end)"),
            (
                22,
                LATER,
                "missed",
                True,
                "Flashed for 12 min (limit at least 15 min; no zone events: counted from the coat's end)",
            ),
            (
                None,
                22,
                "unproven",
                False,
                "So far: flashing for 12 min (limit at least 15 min; no zone events: counted from the coat's end)",
            ),
            (
                None,
                26,
                "met",
                False,
                "So far: flashing for 16 min (limit at least 15 min; no zone events: counted from the coat's end)",
            ),
        ],
    )
    def test_fixed(self, following, as_of, verdict: str, final: bool, sentence: str) -> None:
        found = said(flash("flash_minimum"), after(following=following), as_of)
        assert (found.verdict, found.final, found.sentence) == (verdict, final, sentence)
        assert (found.window.earliest, found.window.latest) == (at(25), None)

    def test_before_and_without_an_end(self) -> None:
        assert said(flash("flash_minimum"), span(None, None)) is None
        open_coat = (a_pass(0, None),)
        assert said(flash("flash_minimum"), span(None, None, before=open_coat)) is None
        found = said(flash("flash_minimum"), after(open_coat))
        assert (found.verdict, found.sentence) == (
            "unproven",
            "Flash-off is unproven: the end of the coat before was not recorded",
        )

    def test_a_closed_round_without_a_next_coat(self) -> None:
        evidence = after(following=None, closed=at(20))
        found = said(flash("flash_minimum"), evidence, 20)
        assert (found.verdict, found.final) == ("unproven", True)
        assert found.sentence.startswith("No next coat was recorded; flashed for 10 min")
        assert said(flash("flash_minimum"), evidence, 5000) == found

    def test_the_worst_zone_is_told_and_a_missed_one_is_not_hidden_by_one_that_goes_on(self) -> None:
        coat = (a_pass(0, 4, "roof"), a_pass(4, 8, "sides"), a_pass(8, 10, "roof"))
        both = {"after": (a_pass(24, None, "roof"), a_pass(26, None, "sides"))}
        found = said(flash("flash_minimum"), after(coat, 24, **both))
        assert (found.verdict, found.zone) == ("missed", "roof")
        assert found.sentence == "Flashed for 14 min (limit at least 15 min; zone roof, from its last pass)"
        one = said(flash("flash_minimum"), after(coat, 24, after=(a_pass(24, None, "roof"),)), 24.5)
        assert (one.verdict, one.zone) == ("missed", "roof")

    def test_by_table_it_is_the_integral_on_the_coldest_part(self) -> None:
        """Against scipy's quadrature of 1 / time(T), ln(time) linear in 1/T between the sheet's points."""

        def rate(minute: float) -> float:
            kelvin = 20 + (minute - 10) / 2 + 273.15
            share = (1 / 293.15 - 1 / kelvin) / (1 / 293.15 - 1 / 303.15)
            return 60 / math.exp(math.log(1200) + share * math.log(720 / 1200))

        published, _ = quad(rate, 10, 24)
        warming, warm = part(line((10, 20), (30, 30)), start=9), part(29, "sills", start=9)
        requirement = flash("flash_minimum", SEALER, "part")
        found = said(requirement, after(following=24, parts=(warming, warm)))
        assert found.verdict == "missed" and found.observed == pytest.approx(published, rel=1e-3)
        assert found.sentence == (
            "Flashed for 14 min (limit at least 30 min to 12 min by the part's temperature; no zone events: counted from "
            f"the coat's end), which is {published * 100:.0f} % of what its temperature asks for"
        )
        assert said(requirement, after(following=28, parts=(warming, warm))).verdict == "met"

    def test_what_was_not_measured_might_make_up_for_it(self) -> None:
        seen = series(20, 9, 40)
        requirement = flash("flash_minimum", SEALER, "part")
        gap = said(requirement, after(following=26, parts=(part(without(seen, 12, 20)),)))
        assert gap.verdict == "unproven" and gap.sentence.endswith("what wasn't measured might make up for the rest")
        assert said(requirement, after(following=26, parts=(part(seen),))).verdict == "missed"
        assert said(requirement, after(following=26)).verdict == "unproven"  # no probe at all
        assert said(requirement, after(following=21)).verdict == "missed"  # not even at the table's best

    @pytest.mark.parametrize(
        ("rule", "following", "verdict", "ending"),
        [
            ("go_on", 25, "met", "the coat's end)"),
            ("pause", 29, "missed", "conditions out of limits for 5 min stopped the clock"),
            ("pause", 30, "met", "conditions out of limits for 5 min stopped the clock"),
            ("restart", 35, "missed", "conditions out of limits for 5 min started the clock anew"),
            ("restart", 36, "met", "conditions out of limits for 5 min started the clock anew"),
            ("not_stated", 24, "missed", "the coat's end)"),
            ("not_stated", 36, "met", "the coat's end)"),
            (
                "not_stated",
                30,
                "unproven",
                "conditions out of limits for 5 min, "
                "the sheet doesn't say what that does to the flash-off: the supervisor decides",
            ),
        ],
    )
    def test_conditions_out_of_limits(self, rule: str, following: float, verdict: str, ending: str) -> None:
        """Too humid from minute 16 to 21 of a flash-off that began at 10."""
        humid = series(lambda m: np.where((m >= 16) & (m < 21), 80, 50), 9, 60)
        requirement = flash("flash_minimum", conditions=HUMID, rule=rule)
        found = said(requirement, after(following=following, series={"relative_humidity": humid}))
        assert found.verdict == verdict, found.sentence
        assert found.sentence.endswith(ending)

    @pytest.mark.parametrize(("minute", "may_never"), [(15, False), (18, True), (23, False)])
    def test_a_clock_that_stands_may_never_be_done(self, minute: float, may_never: bool) -> None:
        """Nobody knows when the air is good again."""
        humid = series(lambda m: np.where((m >= 16) & (m < 21), 80, 50), 9, 60)
        requirement = flash("flash_minimum", conditions=HUMID, rule="pause")
        window = said(requirement, after(following=None, series={"relative_humidity": humid}), minute).window
        assert (window.later_us is None) is may_never and window.sooner_us is not None

    @pytest.mark.parametrize(
        ("rule", "following", "verdict"),
        [
            ("pause", 26, "unproven"),
            ("pause", 30, "met"),
            ("restart", 30, "unproven"),
            ("restart", 24, "missed"),
            ("go_on", 25, "met"),
        ],
    )
    def test_unknown_conditions(self, rule: str, following: float, verdict: str) -> None:
        """Nobody knows the humidity from 16 min 10 s to 20 min."""
        known = without(series(50, 9, 60), 16, 20)
        requirement = flash("flash_minimum", conditions=HUMID, rule=rule)
        assert said(requirement, after(following=following, series={"relative_humidity": known})).verdict == verdict


class TestFlashMaximum:
    LIMIT = flash("flash_maximum", Pace.fixed(2400))

    @pytest.mark.parametrize(
        ("following", "as_of", "verdict", "final", "sentence"),
        [
            (40, LATER, "met", True, "Next coat 40 min after the coat began (limit at most 40 min; {})"),
            (45, LATER, "missed", True, "Next coat 45 min after the coat began, 5 min too late (limit at most 40 min; {})"),
            (None, 39, "unproven", False, "So far: no next coat 39 min after the coat began (limit at most 40 min; {})"),
            (
                None,
                41,
                "missed",
                False,
                "No next coat yet 41 min after the coat began, 1 min too late (limit at most 40 min; {})",
            ),
        ],
    )
    def test_fixed_counts_from_the_first_pass(self, following, as_of, verdict: str, final: bool, sentence: str) -> None:
        found = said(self.LIMIT, after(following=following), as_of)
        assert (found.verdict, found.final) == (verdict, final)
        assert found.sentence == sentence.format("no zone events: counted from the coat's start")
        assert (found.window.earliest, found.window.latest) == (None, at(40))

    def test_each_zone_from_its_own_first_pass(self) -> None:
        coat = (a_pass(0, 4, "roof"), a_pass(4, 10, "sides"), a_pass(8, 10, "roof"))
        found = said(self.LIMIT, after(coat, 38, after=(a_pass(38, 39, "sides"), a_pass(41, None, "roof"))))
        assert (found.verdict, found.zone) == ("missed", "roof")
        assert found.sentence == (
            "Next coat 41 min after the coat began, 1 min too late (limit at most 40 min; zone roof, from its first pass)"
        )

    def test_the_clock_stops_with_the_round(self) -> None:
        evidence = after(following=None, closed=at(20))
        found = said(self.LIMIT, evidence, 30)
        assert (found.verdict, found.final) == ("unproven", True)
        assert found == said(self.LIMIT, evidence, 100_000)

    def test_by_table_on_the_hottest_part_and_unknown_is_not_met(self) -> None:
        requirement = flash("flash_maximum", POT, "part")
        warm, cool = part(30, "roof", end=60), part(20, "sills", end=60)
        assert said(requirement, after(following=44, parts=(warm, cool))).verdict == "met"
        assert said(requirement, after(following=46, parts=(warm, cool))).verdict == "missed"
        # No reading since 44:50: the part may have cooled, and the next reading must not take a miss back.
        silent = part(series(30, 0, 44.9), "roof")
        assert said(requirement, after(following=None, parts=(silent,)), 45 + 2 / 60).verdict == "unproven"
        blind = part(without(series(20, 0, 60), 20, 25))
        assert said(requirement, after(following=44, parts=(blind,))).verdict == "unproven"
        assert said(requirement, after(following=95)).verdict == "missed"  # too long at any temperature of the table


def test_a_pass_over_the_whole_van_counts_for_every_zone() -> None:
    """The roof was sprayed from 0 to 2, the whole van from 2 to 21: at 24 it had flashed for 3 minutes, not for 22."""
    coat = (a_pass(0, 2, "roof"), a_pass(2, 21))
    found = said(flash("flash_minimum"), after(coat, following=24, start=21))
    assert (found.verdict, found.zone) == ("missed", "roof")
    assert found.sentence == "Flashed for 3 min (limit at least 15 min; zone roof, from its last pass)"
    # The next coat reaches the sides first, which only the pass over the whole van had covered.
    found = said(
        flash("flash_minimum"), after(coat, following=24, start=21, after=(a_pass(24, 30, "sides"), a_pass(40, 45, "roof")))
    )
    assert (found.verdict, found.zone) == ("missed", "sides")
    # A next pass over the whole van reaches the roof as well.
    found = said(flash("flash_minimum"), after(coat, following=24, start=21, after=(a_pass(24, 30), a_pass(40, 45, "roof"))))
    assert (found.verdict, found.zone) == ("missed", "roof")


def test_a_clock_that_stood_in_doubt_still_counts_its_seconds() -> None:
    """Humidity so near its limit that nobody knows whether the clock ran: 14:55 are no miss, with buttons known to 15 s."""
    doubtful = {"series": {"relative_humidity": series(74.0, 0, 60)}, "uncertainty": {"relative_humidity": 3.0}}
    requirement = flash("flash_minimum", conditions=HUMID, rule="pause", guarded=True)
    buttons = {"moments": {"entered": 15_000_000}}
    found = said(requirement, after(following=10 + 14 + 55 / 60, **doubtful, **buttons))
    assert (found.verdict, found.uncertainty) == ("unproven", pytest.approx(math.hypot(15, 15)))
    assert said(requirement, after(following=10 + 14 + 30 / 60, **doubtful, **buttons)).verdict == "missed"


SLOW = Pace.table([(10, 7200), (20, 3600), (40, 900)])


def test_who_waits_until_the_flash_off_is_sure_finds_it_proven() -> None:
    """At 12 °C under the guarded rule, by a thermometer known to 1 K: the latest moment stated is the one at which it is met."""
    requirement = flash("flash_minimum", SLOW, "part", guarded=True)
    known = {"parts": (part(12.0, end=160),), "uncertainty": {"part_temperature": 1.0}}
    found = [(minute, said(requirement, after(following=None, **known), minute)) for minute in np.arange(105, 140, 0.25)]
    sure = [(minute, one.window.earliest + one.window.later_us, one.verdict) for minute, one in found]
    done = min(minute for minute, one in found if one.observed >= 1)
    assert {"unproven", "met"} == {verdict for minute, _, verdict in sure if minute > done}
    for minute, moment, verdict in sure:
        if minute > done:
            assert (moment <= at(minute) + 1_000_000) == (verdict == "met"), minute


def test_which_of_two_zones_closes_first_nobody_knows() -> None:
    """The sides, which warm up, are expected to close after the roof, but are less sure: the soonest moment is theirs."""
    coat = (a_pass(0, 4, "roof"), a_pass(12, 16, "sides"))
    steady, warming = line((0, 30), (11.9, 30), (12, 20), (60, 20)), line((0, 20), (12, 20), (20, 22.25))
    parts = {"parts": (part(steady, "roof", end=20), part(warming, "sides", end=20))}
    both, roof, sides = (
        said(flash("flash_maximum", POT, "part"), after(one, None, **parts), 20).window for one in (coat, coat[:1], coat[1:])
    )
    assert roof.latest < sides.latest and sides.latest - sides.sooner_us < roof.latest - roof.sooner_us
    assert (both.latest, both.latest - both.sooner_us) == (roof.latest, sides.latest - sides.sooner_us)


def test_a_tabulated_maximum_that_ended_in_time_has_no_moment() -> None:
    """At 20 °C 90 min, and the next coat came after 80: the table's 45 min at 30 °C were never asked."""
    requirement = flash("flash_maximum", POT, "part")
    found = said(requirement, after(following=80, parts=(part(20, end=120),)))
    assert (found.verdict, found.final, found.window) == ("met", True, None)
    closed = said(requirement, after(following=None, closed=at(80), parts=(part(20, end=120),)))
    assert (closed.final, closed.window) == (True, None)
