"""All faults of one point over one window: which are looked for, what decides them, how soon they are told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from health_shapes import at, every, told

from booth.judge.health import faults
from booth.judge.health.detect import Window, detect
from booth.judge.health.terms import LOOKED_EVERY_US, Terms, longest_pause, terms_of
from booth.judge.series import Series
from booth.times import MINUTE, SECOND
from tests.judge.made_up import shop

P, OTHER, AIR = "north/humidity", "north/humidity-2", "north/air-temperature"
AGE = 15 * SECOND
TERMS = Terms(P, AGE, 30 * SECOND, 40 * SECOND)
TIMES = every(5, 0, 600)
WOBBLE = np.where(np.arange(len(TIMES)) % 2, 23.1, 23.0)  # as a healthy probe never sends the same for long
HEALTHY = Series(TIMES, WOBBLE, AGE)


def found(terms: Terms, own: Series = HEALTHY, until: float = 600, since: float = 0, **known) -> dict[str, list[tuple]]:
    series = {P: own} | known.pop("series", {})
    window = Window(at(0), at(since), at(until), series, **known)
    return {answer.fault: told(answer.spans) for answer in detect(terms, window)}


def answers(terms: Terms, **known) -> dict:
    series = {P: HEALTHY} | known.pop("series", {})
    return {one.fault: one for one in detect(terms, Window(at(0), at(0), at(600), series, **known))}


def test_only_what_is_asked_for_is_looked_for() -> None:
    assert set(found(TERMS)) == {faults.OUT_OF_RANGE, faults.STALE}
    assert found(TERMS) == {faults.OUT_OF_RANGE: [], faults.STALE: []}
    assert set(found(replace(TERMS, jump=5.0, stuck_us=MINUTE))) >= {faults.JUMPING, faults.STUCK}


def test_a_point_that_never_spoke_is_only_asked_what_others_know_of_it() -> None:
    nothing = Series(np.empty(0, np.int64), np.empty(0), AGE)
    assert set(found(replace(TERMS, jump=5.0), nothing)) == {faults.OUT_OF_RANGE}


def test_a_reading_out_of_range_and_the_quiet_after_it() -> None:
    assert found(TERMS, impossible={P: np.array([at(100)])})[faults.OUT_OF_RANGE] == [(100, 140, 100)]


def test_a_jump_before_the_window_is_not_the_windows() -> None:
    values = np.where(TIMES < at(100), 0.0, 40.0) + WOBBLE
    jumping = replace(TERMS, jump=5.0)
    whole = Window(at(0), at(0), at(600), {P: Series(TIMES, values, AGE)})

    def seen(window: Window) -> list[tuple]:
        return next(told(one.spans) for one in detect(jumping, window) if one.fault == faults.JUMPING)

    assert seen(whole) == [(100, 140, 100)]
    assert seen(replace(whole, start=at(105))) == []


class TestStuck:
    TERMS = replace(TERMS, stuck_us=MINUTE)
    STILL = Series(TIMES, np.where((TIMES >= at(200)) & (TIMES < at(300)), 50.0, WOBBLE), AGE)

    def test_the_value_that_stood_still(self) -> None:
        assert found(self.TERMS, self.STILL)[faults.STUCK] == [(200, 300, 260)]

    def test_it_may_in_a_mode_that_isnt_asked_for(self) -> None:
        mode = Series(TIMES, np.where(TIMES < at(250), 0, 1), AGE)
        asked = replace(self.TERMS, stuck_modes=("spray",))
        known = {"mode": mode, "words": ("idle", "spray")}
        assert found(asked, self.STILL, **known)[faults.STUCK] == []  # 50 s of it in spray
        assert found(replace(asked, stuck_us=40 * SECOND), self.STILL, **known)[faults.STUCK] == [(250, 300, 290)]
        assert found(replace(asked, stuck_modes=("idle",), stuck_us=40 * SECOND), self.STILL, **known)[faults.STUCK] == [
            (200, 250, 240)
        ]
        assert found(replace(asked, stuck_modes=("bake",)), self.STILL, **known)[faults.STUCK] == []

    def test_in_a_mode_that_nobody_knows_it_may(self) -> None:
        asked = replace(self.TERMS, stuck_modes=("spray",))
        assert found(asked, self.STILL)[faults.STUCK] == []
        silent = Series(np.empty(0, np.int64), np.empty(0), AGE)
        assert found(asked, self.STILL, mode=silent, words=("idle", "spray"))[faults.STUCK] == []

    def test_a_point_silent_since_it_was_last_looked_at_is_not_looked_at_again(self) -> None:
        early = Series(*((column[:40]) for column in (TIMES, self.STILL.values)), AGE)
        assert faults.STUCK in found(self.TERMS, early, since=220)
        assert faults.STUCK not in found(self.TERMS, early, since=225)  # its last reading at 195 s, silent from 225 s on


class TestSilence:
    QUIET = Series(TIMES[:20], HEALTHY.values[:20], AGE)  # last spoke at 95 s

    def test_it_lasts(self) -> None:
        assert found(TERMS, self.QUIET)[faults.STALE] == [(125, None, 125)]

    def test_a_reading_that_comes_just_now_and_is_dated_long_ago_is_no_silence_yet(self) -> None:
        assert found(TERMS, self.QUIET, arrivals={P: (at(95), at(590))})[faults.STALE] == []
        assert found(TERMS, self.QUIET, arrivals={P: (at(95), at(570))})[faults.STALE] == [(125, None, 125)]  # not just now
        assert found(TERMS, self.QUIET, arrivals={P: (at(95), at(96))})[faults.STALE] == [(125, None, 125)]
        assert found(TERMS, self.QUIET, until=130, arrivals={P: (at(95), at(124))})[faults.STALE] == [(125, None, 125)]
        assert found(TERMS, self.QUIET, arrivals={P: (at(90), at(590))})[faults.STALE] == [(125, None, 125)]  # another reading


def test_two_that_disagree() -> None:
    terms = replace(TERMS, partner=OTHER, uncertainties=(0.3, 0.4), disagree_us=MINUTE)
    off = Series(TIMES, HEALTHY.values + np.where((TIMES >= at(200)) & (TIMES < at(400)), 2.0, 0.0), AGE)
    assert found(terms, series={OTHER: off})[faults.DISAGREES] == [(200, 400, 260)]
    assert found(terms, series={OTHER: HEALTHY})[faults.DISAGREES] == []
    assert faults.DISAGREES not in found(terms, series={OTHER: Series(np.empty(0, np.int64), np.empty(0), AGE)})
    # From where on the answer is exact: what was so at the first reading of either may have begun before.
    later = Series(TIMES[3:], HEALTHY.values[3:], AGE)
    assert answers(terms, series={OTHER: later})[faults.DISAGREES].edge == at(0)
    assert answers(replace(terms, point=OTHER, partner=P), series={OTHER: later})[faults.DISAGREES].edge == at(0)


def test_air_too_hot_for_a_humidity_probe() -> None:
    terms = replace(TERMS, air=AIR, operating_to_c=60.0, recovery_us=3 * MINUTE)
    air = Series(TIMES, np.where((TIMES >= at(100)) & (TIMES <= at(200)), 70.0, 23.0), AGE)
    assert found(terms, series={AIR: air})[faults.OUT_OF_OPERATING_RANGE] == [(100, 380, 100)]
    quick = answers(replace(terms, recovery_us=0), series={AIR: air})[faults.OUT_OF_OPERATING_RANGE]
    assert (told(quick.spans), quick.start, quick.edge) == ([(100, 215, 100)], at(0), at(15))
    assert answers(terms, series={AIR: air})[faults.OUT_OF_OPERATING_RANGE].edge == at(180)


def test_a_clock_that_is_off() -> None:
    minutes = np.array([at(60 * one) for one in range(10)], np.int64)
    terms = replace(TERMS, clock_tolerance_us=30 * SECOND, clock_us=5 * MINUTE)
    one = answers(terms, minutes={P: (minutes, np.full(10, 90 * SECOND))})[faults.CLOCK_OFF]
    assert [span.offset_us for span in one.spans] == [90 * SECOND]
    assert (one.start, one.edge) == (at(0), at(0))
    assert answers(terms, minutes={P: (minutes, np.full(10, 20 * SECOND))})[faults.CLOCK_OFF].spans == []
    assert faults.CLOCK_OFF not in answers(terms)


class TestTerms:
    def test_how_soon_each_fault_is_told(self) -> None:
        """What is proven is told when somebody looks the next time, ten seconds later at most."""
        everything = replace(
            TERMS, stuck_us=5 * MINUTE, jump=5.0, partner=OTHER, disagree_us=2 * MINUTE, air=AIR, clock_us=4 * MINUTE
        )
        assert LOOKED_EVERY_US == 10 * SECOND
        assert dict(everything.told_within()) == {
            faults.STALE: 40 * SECOND,
            faults.STUCK: 310 * SECOND,
            faults.JUMPING: 10 * SECOND,
            faults.OUT_OF_RANGE: 10 * SECOND,
            faults.DISAGREES: 130 * SECOND,
            faults.CLOCK_OFF: 310 * SECOND,
            faults.OUT_OF_OPERATING_RANGE: 10 * SECOND,
        }
        assert set(dict(TERMS.told_within())) == {faults.STALE, faults.OUT_OF_RANGE, faults.CLOCK_OFF}

    @pytest.mark.parametrize(
        ("terms", "seconds"),
        [
            (TERMS, 40 + 80),
            (replace(TERMS, settle_us=5 * SECOND), 5 + 30),
            (replace(TERMS, stuck_us=5 * MINUTE), 300 + 80),
            (replace(TERMS, partner=OTHER, disagree_us=2 * MINUTE), 120 + 80),
            (replace(TERMS, disagree_us=2 * MINUTE), 40 + 80),
            (replace(TERMS, air=AIR, recovery_us=10 * MINUTE), 600 + 80),
            (replace(TERMS, recovery_us=10 * MINUTE), 40 + 80),
        ],
    )
    def test_how_far_back_readings_decide(self, terms: Terms, seconds: int) -> None:
        assert terms.reach_us == seconds * SECOND

    def test_a_clock_may_be_half_a_minute_off_where_nobody_says_otherwise(self) -> None:
        assert (TERMS.clock_tolerance_us, TERMS.clock_us, TERMS.disagree_us) == (30 * SECOND, 5 * MINUTE, MINUTE)

    def test_two_missed_readings_are_no_silence_yet_and_half_a_minute_never_is(self) -> None:
        assert longest_pause(20 * SECOND) == 40 * SECOND
        assert longest_pause(5 * SECOND) == 30 * SECOND

    def test_the_shops_humidity_probe(self) -> None:
        """As config/ says: beside the booth's thermometer, to the temperature that its maker allows."""
        point = shop().booths["north"].points["humidity"]
        terms = terms_of(shop(), "north", "humidity")
        assert (terms.point, terms.max_age_us, terms.recovery_us) == ("north/humidity", point.max_age, point.recovery)
        assert (terms.air, terms.operating_to_c) == (AIR, point.operating_to)
        air = terms_of(shop(), "north", "air-temperature")
        assert (air.air, air.operating_to_c) == (None, 0.0)
        assert terms.clock_tolerance_us == shop().site.health.clock_tolerance and terms.clock_us == shop().site.health.clock_after
