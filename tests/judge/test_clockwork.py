"""A clock that is stopped or started anew: when it counts, its best attempt, and when it was done."""

from __future__ import annotations

import numpy as np
import pytest

from booth.judge.clockwork import Reckoning, Spell, attempts, reckon
from booth.physics.pace import Pace
from tests.judge.made_up import at, series, without

SEALER = Pace.table([(15, 1800), (20, 1200), (30, 720)])


class TestAttempts:
    SPELLS = [Spell(0, 10, "in"), Spell(10, 12, "out"), Spell(12, 20, "in"), Spell(20, 23, "unknown"), Spell(23, 30, "in")]

    @pytest.mark.parametrize(
        ("rule", "least", "most"),
        [
            ("go_on", [[(0, 30)]], [[(0, 30)]]),
            ("pause", [[(0, 10), (12, 20), (23, 30)]], [[(0, 10), (12, 20), (20, 23), (23, 30)]]),
            ("restart", [[(0, 10)], [(12, 20)], [(23, 30)]], [[(0, 10)], [(12, 20), (20, 23), (23, 30)]]),
            ("not_stated", [[(0, 10)], [(12, 20)], [(23, 30)]], [[(0, 30)]]),
        ],
    )
    def test_when_the_clock_counts(self, rule: str, least: list, most: list) -> None:
        assert attempts(self.SPELLS, rule) == (least, most)

    def test_the_best_attempt_counts_and_says_when_it_was_done(self) -> None:
        minute = 60_000_000
        tries = [[(0, 9 * minute)], [(20 * minute, 34 * minute)]]
        found = reckon(Pace.fixed(600), "minimum", None, tries, tries)
        assert (found.least, found.most, found.done_at) == (1.4, 1.4, 30 * minute)

    def test_a_tabulated_time_is_done_when_the_readings_have_shown_it(self) -> None:
        """Twenty minutes at a steady 20 °C, whether the span goes on or not; by readings a sheet's time isn't done early."""
        spans = [[(at(10), at(50))]]
        assert reckon(SEALER, "minimum", series(20, 10, 50), spans, spans).done_at == pytest.approx(at(30), abs=2)
        assert reckon(SEALER, "minimum", series(20, 10, 29), spans, spans).done_at is None
        paused = [[(at(10), at(20)), (at(30), at(50))]]
        assert reckon(SEALER, "minimum", series(20, 10, 50), paused, paused).done_at == pytest.approx(at(40), abs=2)

    def test_a_minimum_is_certain_by_readings_or_when_nothing_more_can_come(self) -> None:
        assert Reckoning(0.4, 1.0, at(20)).is_certain(False)
        assert Reckoning(1.0, 1.0, None).is_certain(True) and not Reckoning(1.0, 1.0, None).is_certain(False)
        assert not Reckoning(0.999, 1.2, None).is_certain(True)

    def test_the_pace_at_which_it_was_done_is_that_of_the_temperature_then(self) -> None:
        """20 min at 20 °C, and warmer after that."""
        warmer = series(lambda minute: np.where(minute <= 31, 20, 30), 10, 50)
        assert reckon(SEALER, "minimum", warmer, [[(at(10), at(50))]], []).done_pace == pytest.approx(1 / 1200)
        assert reckon(Pace.fixed(600), "minimum", None, [[(at(0), at(20))]], []).done_pace == pytest.approx(1 / 600)

    def test_what_a_maximum_may_have_had_unseen_goes_by_the_hottest_seen(self) -> None:
        """Nobody can say how hot it was, so that a verdict is open; but it is foretold by the hottest of table and readings."""
        spans = [[(at(10), at(20))]]
        gap = without(series(40, 10, 20), 14, 16)
        found = reckon(SEALER, "maximum", gap, spans, spans)
        swiftest = SEALER.pace_per_s(40, "maximum")
        assert (found.most, found.swiftest) == (np.inf, pytest.approx(swiftest))
        assert found.perhaps == pytest.approx(600 * swiftest, rel=1e-6)
        cool = reckon(SEALER, "maximum", without(series(15, 10, 20), 14, 16), spans, spans)
        assert cool.swiftest == pytest.approx(1 / 720)
