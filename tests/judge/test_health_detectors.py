"""Each fault of an instrument: found with its exact beginning and end, within its time, and not where there is none."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from health_shapes import START, at, every, noisy, times, told

from booth.judge.health.bursts import bursts, jumps
from booth.judge.health.clock import clock_off
from booth.judge.health.disagrees import disagrees
from booth.judge.health.operating import out_of_operating_range
from booth.judge.health.stale import stale
from booth.judge.health.stuck import stuck
from booth.judge.series import Series
from booth.times import MINUTE, SECOND

AGE = 15 * SECOND


class TestStale:
    def test_a_silence_that_ended_and_one_that_lasts(self) -> None:
        assert told(stale(times(0, 5, 65, 70), 30 * SECOND, at(110))) == [(35, 65, 35), (100, None, 100)]

    def test_a_pause_of_just_that_long_is_none(self) -> None:
        assert told(stale(times(0, 30), 30 * SECOND, at(60))) == []

    def test_who_never_spoke_is_not_stale(self) -> None:
        assert told(stale(times(), 30 * SECOND, at(1000))) == []


class TestStuck:
    def test_from_the_first_of_the_value_to_the_first_of_another(self) -> None:
        values = np.array([22.9, 23.0, *[23.1] * 13, 23.2])
        assert told(stuck(every(5, 0, 80), values, 60 * SECOND, 30 * SECOND, at(75))) == [(10, 75, 70)]

    def test_it_lasts_until_it_moves(self) -> None:
        assert told(stuck(every(5, 0, 70), np.full(14, 23.0), 60 * SECOND, 30 * SECOND, at(70))) == [(0, None, 60)]

    def test_it_is_over_when_the_point_says_nothing_any_more(self) -> None:
        moments, values = times(*range(0, 75, 5), 200), np.full(16, 23.0)
        assert told(stuck(moments, values, 60 * SECOND, 30 * SECOND, at(200))) == [(0, 100, 60)]
        assert told(stuck(moments[:15], values[:15], 60 * SECOND, 30 * SECOND, at(110))) == [(0, 100, 60)]
        assert told(stuck(moments[:15], values[:15], 60 * SECOND, 30 * SECOND, at(90))) == [(0, None, 60)]

    def test_a_value_that_was_steady_for_less_is_no_fault(self) -> None:
        assert told(stuck(every(5, 0, 60), np.full(12, 23.0), 60 * SECOND, 30 * SECOND, at(60))) == []

    def test_a_value_may_rest_in_other_modes(self) -> None:
        moments, idle = every(5, 0, 200), np.arange(40) < 20
        assert told(stuck(moments, np.zeros(40), 60 * SECOND, 30 * SECOND, at(200), ~idle)) == [(100, None, 160)]
        assert told(stuck(moments[:20], np.zeros(20), 60 * SECOND, 30 * SECOND, at(100), ~idle[:20])) == []

    def test_a_healthy_probe_of_a_steady_booth_isnt_stuck(self) -> None:
        """Noise of half a digit over a shift (a normal distribution by numpy): no run of one value comes near ten minutes."""
        assert told(stuck(every(5, 0, 8 * 3600), noisy(5760), 600 * SECOND, 30 * SECOND, at(8 * 3600))) == []


class TestBursts:
    def test_a_jump_and_the_quiet_after_it(self) -> None:
        moments, values = every(5, 0, 100), np.where(np.arange(20) == 6, 60.0, 23.0)
        far = jumps(moments, values, 5.0, AGE)
        assert far.tolist() == times(30, 35).tolist()  # there and back
        assert told(bursts(far, 30 * SECOND, at(95))) == [(30, 65, 30)]

    def test_a_change_across_a_silence_is_no_jump(self) -> None:
        assert len(jumps(times(0, 16), np.array([23.0, 60.0]), 5.0, AGE)) == 0

    def test_what_is_not_quiet_yet_lasts(self) -> None:
        assert told(bursts(times(10, 30, 70), 30 * SECOND, at(90))) == [(10, 60, 10), (70, None, 70)]
        assert told(bursts(times(10, 30, 60), 30 * SECOND, at(90))) == [(10, 90, 10)]


class TestDisagrees:
    """The criterion is E_n = |a − b| / √(U_a² + U_b²) > 1 (ISO 13528:2022, 9.7; ISO/IEC 17043): formula from memory."""

    U = (0.4, 0.3)
    EN = 0.5
    """√(0.4² + 0.3²), the 3-4-5 triangle."""

    def pair(self, apart: np.ndarray | float, count: int = 40) -> tuple[Series, Series]:
        moments = every(5, 0, 5 * count)
        return Series(moments, np.full(count, 23.0), AGE), Series(moments, 23.0 + np.broadcast_to(apart, count), AGE)

    def test_beyond_the_combined_uncertainty(self) -> None:
        assert sqrt(self.U[0] ** 2 + self.U[1] ** 2) == pytest.approx(self.EN)
        apart = np.where((np.arange(40) >= 10) & (np.arange(40) < 30), self.EN + 0.01, 0.0)
        assert told(disagrees(*self.pair(apart), self.U, 60 * SECOND, at(195))) == [(50, 150, 110)]

    def test_within_it_is_agreement(self) -> None:
        assert told(disagrees(*self.pair(self.EN - 0.01), self.U, 60 * SECOND, at(195))) == []

    def test_for_a_moment_is_none(self) -> None:
        apart = np.where(np.arange(40) % 10 < 9, 3.0, 0.0)
        assert told(disagrees(*self.pair(apart), self.U, 60 * SECOND, at(195))) == []

    def test_a_silence_of_one_ends_it(self) -> None:
        one, other = self.pair(3.0)
        cut = Series(other.times[:20], other.values[:20], AGE)
        assert told(disagrees(one, cut, self.U, 60 * SECOND, at(195))) == [(0, 95 + 15, 60)]


class TestClock:
    TOLERANCE = 30 * SECOND

    def found(self, offsets: list[float], as_of: float | None = None) -> list[tuple]:
        minutes = np.array([at(60 * index) for index in range(len(offsets))], np.int64)
        microseconds = np.array([round(one * SECOND) for one in offsets], np.int64)
        return list(clock_off(minutes, microseconds, self.TOLERANCE, 5 * MINUTE, at(as_of or 60 * len(offsets))))

    @pytest.mark.parametrize("offset", [40.0, -40.0, 3600.0])
    def test_a_steady_offset_either_way(self, offset: float) -> None:
        [one] = self.found([0.2, *[offset + jitter for jitter in (0, 1, 0, 2, 1, 0)], 0.2])
        assert told([one]) == [(60, 420, 360)]
        assert one.offset_us == pytest.approx((offset + 0.5) * SECOND, abs=SECOND)

    def test_a_slow_network_is_no_clock(self) -> None:
        assert self.found([29.0] * 30) == []

    def test_a_queue_that_drains_is_no_clock(self) -> None:
        """Two hours of readings delivered within a minute: from minute to minute a minute less."""
        assert self.found([7200 - 60 * index for index in range(110)]) == []

    def test_not_before_it_was_so_for_long_enough(self) -> None:
        assert self.found([40.0] * 4) == []
        assert told(self.found([40.0] * 5)) == [(0, None, 300)]


def test_an_operating_range_with_its_recovery() -> None:
    moments = every(60, 0, 7200)
    air = Series(moments, np.where((np.arange(120) >= 30) & (np.arange(120) < 60), 70.0, 25.0), AGE)
    assert told(out_of_operating_range(air, 60.0, 15 * MINUTE, at(7200))) == [(1800, 59 * 60 + 900, 1800)]
    assert START % MINUTE == 0
