"""A bake told by its heat. The climbs have a known beginning: a straight ramp, and a first-order body in hot air (a textbook's
lumped capacity, T = T0 + r (t - tau (1 - exp(-t/tau))) in air that warms at r; T = Ta - (Ta - T0) exp(-t/tau) in an oven)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import gammainc

from booth.judge.heat import Heated, heats, told_by_heat, warmest
from booth.judge.infer import Stretch
from booth.judge.series import Series
from booth.times import MINUTE
from tests.judge.made_up import START, Van, at, line, series, shop, without

ABOVE, BELOW = 45.0, 40.0
UNSEEN = 2 * MINUTE
BAKE = line((0, 23), (20, 23), (30, 73), (70, 73), (71, 30), (90, 25))  # 5 K/min from minute 20 on


def minutes(found: list[Heated]) -> list[tuple]:
    return [((one.start - START) / 60e6, None if one.end is None else (one.end - START) / 60e6) for one in found]


def told(shape, until: float = 90, period: float = 5) -> list[tuple]:
    return minutes(heats(series(shape, 0, 90, period), ABOVE, BELOW, at(until), UNSEEN))


@pytest.mark.parametrize("rate", [0.5, 1.0, 2.0, 5.0, 20.0])
def test_a_straight_climb_began_where_it_began(rate: float) -> None:
    """At whatever rate, as long as it takes no longer than is looked back."""
    top = 30 + min(30, 40 / rate)
    climb = line((0, 35), (30, 35), (top, 35 + (top - 30) * rate), (90, 35 + (top - 30) * rate))
    ((start, end),) = told(climb)
    assert start == pytest.approx(30, abs=5 / 60) and end is None


@pytest.mark.parametrize("tau", [1.0, 4.0, 8.0])
def test_a_part_in_warming_air_lags_by_less_than_its_time_constant(tau: float) -> None:
    def part(m: np.ndarray) -> np.ndarray:
        t = np.maximum(m - 20, 0)
        return 23 + 5 * (t - tau * (1 - np.exp(-t / tau)))

    ((start, _),) = told(part)
    assert 20 <= start <= 20 + tau


@pytest.mark.parametrize("lags", [1, 2, 3])
@pytest.mark.parametrize("total_s", [10, 25, 40])
@pytest.mark.parametrize("rate", [2.0, 5.0, 10.0])
def test_lags_one_after_the_other_are_seen_through(lags: int, total_s: float, rate: float) -> None:
    """Burner, air, probe: equal first-order lags in a row, warmed evenly (any textbook of control, by the gamma distribution).
    What is left is at most 0.4 of their sum."""
    each = total_s / 60 / lags

    def lagging(m: np.ndarray) -> np.ndarray:
        t = np.maximum(m - 20, 0)
        return 23 + rate * (t * gammainc(lags, t / each) - lags * each * gammainc(lags + 1, t / each))

    ((start, _),) = told(lagging, period=1)
    assert 20 - 2 / 60 <= start <= 20 + 0.4 * total_s / 60 + 2 / 60


def test_what_was_read_before_the_climb_is_what_it_climbed_from() -> None:
    """Warm for the purge already: the coldest reading of the last twenty minutes isn't what the bake began from."""
    ((start, _),) = told(line((0, 18), (15, 18), (15.5, 24), (20, 24), (30, 74), (90, 74)))
    assert start == pytest.approx(20, abs=5 / 60)


@pytest.mark.parametrize("tau", [2.0, 8.0])
def test_a_cold_part_in_a_hot_oven_began_when_it_came(tau: float) -> None:
    """Its climb is steepest at first, so the line back overshoots, but never to before the coldest reading."""
    ((start, _),) = told(lambda m: 80 - 57 * np.exp(-np.maximum(m - 20, 0) / tau))
    assert 20 - 0.5 * tau <= start <= 20 + 5 / 60


def test_it_ended_where_the_fall_to_the_lower_level_began() -> None:
    ((start, end),) = told(BAKE)
    assert start == pytest.approx(20, abs=5 / 60)
    assert end == pytest.approx(70, abs=5 / 60)
    assert told(BAKE, until=70.7)[0][1] is None  # it is known when the level is passed, 46 s later


def test_until_the_level_is_passed_there_is_none_and_then_it_goes_on() -> None:
    assert told(BAKE, until=24.3) == []
    ((start, end),) = told(BAKE, until=25)
    assert end is None and start == pytest.approx(20, abs=5 / 60)


def test_what_sways_about_a_level_is_one_heat() -> None:
    def swaying(m: np.ndarray) -> np.ndarray:
        return np.where(m < 20, 23, np.where(m < 70, 45 + 4 * np.sin(m), 25))

    assert len(told(swaying)) == 1


def test_two_heats_are_two() -> None:
    twice = line((0, 23), (10, 23), (20, 70), (30, 70), (31, 25), (50, 25), (60, 70), (70, 70), (71, 25), (90, 25))
    assert [round(start) for start, _ in told(twice)] == [10, 50]


def test_what_was_hot_from_the_first_began_unseen() -> None:
    assert told(line((0, 70), (30, 70), (31, 25), (90, 25))) == []
    assert len(told(line((0, 70), (30, 70), (31, 25), (50, 25), (60, 70), (90, 70)))) == 1


def test_a_gap_in_a_heat_ends_nothing() -> None:
    known = without(series(BAKE, 0, 90, 5), 35, 60)
    assert minutes(heats(known, ABOVE, BELOW, at(90), UNSEEN)) == told(BAKE)
    assert heats(Series(np.empty(0, np.int64), np.empty(0), 15_000_000), ABOVE, BELOW, at(90), UNSEEN) == []


@pytest.mark.parametrize(("gap", "found"), [((20.5, 21), 1), ((21, 24.5), 0), ((18, 26), 0), ((1, 19.5), 1), ((0, 28), 0)])
def test_a_climb_that_nobody_saw_is_none(gap: tuple[float, float], found: int) -> None:
    """It crosses 45 degC at minute 24.4; two minutes of it may be missing, and whatever was before."""
    assert len(heats(without(series(BAKE, 0, 69, 5), *gap), ABOVE, BELOW, at(69), UNSEEN)) == found


def test_a_fall_that_nobody_saw_ended_when_it_was_last_seen_hot() -> None:
    ((_, end),) = minutes(heats(without(series(BAKE, 0, 90, 5), 60, 85), ABOVE, BELOW, at(90), UNSEEN))
    assert end == pytest.approx(60 - 5 / 60)  # the last reading before the gap


@pytest.mark.parametrize("shape", [line((0, 45), (39, 45), (39.1, 46), (60, 46)), line((0, 46), (1, 40), (60, 40), (60.1, 39))])
def test_what_stands_right_on_a_level_neither_climbs_nor_falls(shape) -> None:
    assert [start for start, _ in told(shape)] == []


def test_one_leap_began_between_two_readings() -> None:
    ((start, _),) = told(lambda m: np.where(m < 20, 23.0, 70.0))
    assert 20 - 5 / 60 <= start <= 20


@settings(max_examples=60, deadline=None)
@given(
    chance=st.integers(0, 2**32 - 1),
    rate=st.floats(2, 8),
    rest=st.floats(18, 30),
    period=st.sampled_from([5, 15, 30]),
)
def test_noise_and_sampling_move_the_start_by_little(chance: int, rate: float, rest: float, period: int) -> None:
    """0.1 K of noise is a few seconds of a climb of 2 K/min and more; a reading more or less is one period."""
    climb = line((0, rest), (30, rest), (30 + 50 / rate, rest + 50), (90, rest + 50))
    known = series(climb, 0, 90, period)
    noise = np.random.default_rng(chance).uniform(-0.1, 0.1, len(known))
    noisy = Series(known.times, known.values + noise, known.max_age_us)
    ((start, _),) = minutes(heats(noisy, ABOVE, BELOW, at(90), UNSEEN))
    assert start == pytest.approx(30, abs=4 * 0.1 / rate + 2 * period / 60)


@settings(max_examples=60, deadline=None)
@given(shape=st.lists(st.floats(15, 80), min_size=30, max_size=30), cut=st.integers(0, 30))
def test_what_was_told_once_is_told_for_ever(shape, cut: int) -> None:
    known = series(line(*enumerate(shape)), 0, 29, 5)
    before, after = heats(known, ABOVE, BELOW, at(cut), UNSEEN), heats(known, ABOVE, BELOW, at(30), UNSEEN)
    assert [(one.start, one.passed) for one in before] == [(one.start, one.passed) for one in after][: len(before)]
    assert {one for one in before if one.end is not None} <= set(after)
    assert all(one.start <= one.passed and (one.end is None or one.passed < one.end) for one in after)


def test_the_warmest_of_some_parts() -> None:
    one, two = series(20.0, 0, 10), without(series(line((0, 10), (10, 40)), 0, 10), 6, 8)
    found = warmest([one, two], at(0), at(10))
    at_minute = dict(zip(((found.times - START) / 60e6).tolist(), found.values.tolist(), strict=True))
    assert at_minute[1] == 20.0 and at_minute[5] == 25.0
    assert at_minute[5 + 55 / 60 + 15 / 60] == 20.0  # silent, and its last word too old: the other one speaks
    assert len(warmest([], at(0), at(10))) == 0


class TestTold:
    MODE = series(0.0, 0, 15, 5)  # and silent from then on
    HEAT = Heated(at(20), at(25), at(71))

    def van(self, *coats: tuple) -> tuple:
        made = Van(shop())
        made.tell("job-open", 0, process="standard")
        for coat in coats:
            made.step(*coat)
        return made.job(), made.shop.processes["standard"]

    def told(self, *coats: tuple, mode: Series | None = None, bakes: tuple = ()) -> list[tuple]:
        found = told_by_heat(*self.van(*coats), "north", [self.HEAT], self.MODE if mode is None else mode, bakes)
        return [(one.step, one.channel, one.start, one.end) for one in found]

    def test_a_bake_after_wet_paint(self) -> None:
        assert self.told(("clear-2", 2, 12)) == [("bake", "inferred", at(20), at(71))]
        assert self.told() == []  # the booth is warmed before the work

    def test_a_mode_that_speaks_is_believed(self) -> None:
        assert self.told(("clear-2", 2, 12), mode=series(0.0, 0, 90, 5)) == []
        assert self.told(("clear-2", 2, 12), bakes=(Stretch(at(22), at(60)),)) == []
        assert len(self.told(("clear-2", 2, 12), bakes=(Stretch(at(75), at(80)),))) == 1

    def test_where_both_tell_of_it_the_mode_is_believed(self) -> None:
        """What a controller kept back and sent later."""
        made = Van(shop())
        made.tell("job-open", 0, process="standard")
        made.step("bake", 20, 71, channel="inferred")
        made.step("bake", 19.5, 70, channel="signalled")
        run = made.job().round.run("bake")
        assert (run.start, run.end, run.source) == (at(19.5), at(70), "signalled")
