"""Twenty random shifts in every test run: what must never happen doesn't. `make truth` asks the same of a thousand, with figures.

The truth is simulators/plain, which shares no code with booth.judge; tests here hold it against sums done by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulators.any_shift import measured_shift
from simulators.plain.evaluate import best_of_stretches
from simulators.plain.truth import passed, time_at
from tests.truth.figures import figures
from tests.truth.forecasts import Foretold, Lead
from tests.truth.matrix import matrices, wrong_rows
from tests.truth.shift import Delay, Row, Shift, guarded_shop, judged_shift
from tests.truth.told import Inferred
from tests.truth.whole_way import differences, through_disk

SEEDS = range(20)
GROUPS = 4
NO_TRUTH = {"mode", "gate", "check", "calibration", "lots", "appearance"}
"""Decided by papers, or (the mode) by what the controller says: the plain truth knows nothing of them."""


def known(shifts: list[Shift]) -> list[Row]:
    """What air and clock decide, where no hidden fault bears on it."""
    return [row for shift in shifts for row in shift.rows if row.margin is not None and not row.hidden]


@pytest.mark.parametrize("group", range(GROUPS))
def test_twenty_shifts(group: int) -> None:
    """In groups, so that the cores can share them."""
    shifts = [judged_shift(seed, guarded_shop()) for seed in SEEDS[group::GROUPS]]
    rows = known(shifts)
    assert len(rows) > 150
    assert [row for row in rows if row.verdict == "met" and row.truth == "missed by more than U"] == []
    overdue = [row for row in rows if any(ill.overdue for ill in row.ills) and row.verdict == "met"]
    assert [row for row in overdue if not row.gaps_at_worst or row.margin < 0] == []  # a fault that must have been seen
    met = [row for row in rows if row.margin >= 0 and not row.ills and row.pressed]
    assert sum(row.verdict == "met" for row in met) >= 0.9 * len(met) > 100  # all-unproven is no answer
    assert {row.kind for shift in shifts for row in shift.rows if row.margin is None} <= NO_TRUTH


FOUL = {
    "frost": lambda day: -max(day.temperature_c[8:12]),
    "sultry": lambda day: min(day.dew_point_c[8:12]),
    "front": lambda day: max(day.dew_point_c[hour + 3] - day.dew_point_c[hour] for hour in range(6, 10)),
}
"""Real days on which a shop had better not paint: whatever is largest is worst."""


@pytest.mark.parametrize("foul", FOUL)
def test_the_foulest_of_two_hundred_measured_shifts(foul: str) -> None:
    """A booth that only heats, with so much and no more, can't make such air good: there must be true misses, and be told."""
    seed = max(range(200), key=lambda one: FOUL[foul](measured_shift(one).climate))
    rows = known([judged_shift(seed, guarded_shop(), faults=False, script=measured_shift)])
    assert [row for row in rows if row.verdict == "met" and row.truth == "missed by more than U"] == []
    told = {row.kind for row in rows if row.verdict == "missed" and row.truth == "missed by more than U"}
    if foul == "frost":
        assert "air_temperature" in told
    if foul == "sultry":
        assert {"relative_humidity", "dew_point_margin"} <= told


def test_a_shift_through_json_and_a_store_on_disk_gives_the_same() -> None:
    quick, shop = judged_shift(0, guarded_shop()), guarded_shop()
    assert list(differences(quick.rows, through_disk(0, shop), "seed 0")) == []
    other = (*quick.rows[1:], quick.rows[0].__class__(**{**vars(quick.rows[0]), "verdict": "missed"}))
    assert len(list(differences(quick.rows, other, "seed 0"))) == 1


def row(verdict: str, margin: float, uncertainty: float | None = 1.0) -> Row:
    return Row(7, "bake/peak:steel", verdict, margin, "K", uncertainty, None, (), True, "made up")


def test_the_bench_finds_what_is_planted() -> None:
    """A bench that can't fail proves nothing."""
    planted = [row("met", -2.0), row("met", -0.5), row("missed", 3.0), row("unproven", 3.0), row("met", 3.0)]
    assert [one.truth for one in planted[:3]] == ["missed by more than U", "missed within U", "met by more than U"]
    assert wrong_rows(planted) == [planted[0], planted[1], planted[2]]
    shift = Shift(7, 8.0, tuple(planted), (), (), (), True, (), ())
    reached = {one.name: (one.value, one.reached) for one in figures([shift])}
    assert reached["“met”, truth missed by more than the stated uncertainty"] == (1, False)
    assert reached["“missed”, truth met by more than the uncertainty"] == (pytest.approx(100 / 3), False)
    assert reached["“met” where clearly met and nothing was wrong"] == (pytest.approx(100 / 3), False)
    assert reached["“met” of all that was met, by however little, and nothing was wrong"] == (pytest.approx(100 / 3), False)
    table = "\n".join(matrices(planted))
    assert "| peak | 1 | 1 | 1 |  |  |  | 1 |  |  | 1 |  |  |" in table


def test_a_logger_that_never_warns_nor_alarms_fails() -> None:
    silent = Shift(
        7,
        8.0,
        (row("unproven", -5.0),),
        (Inferred("base-1", "start", None),),
        (),
        (Delay("bake/peak:steel", "missed", math.inf, math.inf, math.inf),),
        True,
        (Foretold("bake/dwell", "dwell", 600.0, math.inf, 60.0, 60.0),),
        (Lead("clear-1/relative_humidity", None, True),),
    )
    failed = {one.name for one in figures([silent]) if one.reached is False}
    assert failed >= {
        "step start inferred without its button, error (p95 of 1)",
        "alarm after a miss that no error could hide, 2 U (p95 of 1)",
        "… and no alarm at all",
        "flash-off, bake and cool-down by a temperature: came where stated, of 1",
        "warning before a miss that could be foreseen (median of 1)",
    }


class TestPlain:
    def test_a_miss_shorter_than_the_grace_is_none(self) -> None:
        kept = np.array([1.0, 1.0, -2.0, -3.0, -2.5, 1.0])
        assert best_of_stretches(kept, 0).min() == -3.0
        assert best_of_stretches(kept, 2).min() == -2.0  # three seconds, one more than the grace: its best second
        assert best_of_stretches(kept, 3).min() == 1.0
        assert len(best_of_stretches(kept, 9)) == 0

    def test_when_a_sum_passed(self) -> None:
        used = np.array([0.25, 0.5, 0.75, 1.0, 1.25, 1.5])
        assert [passed(used, 1.0, 100)(by) for by in (0.0, 0.25, 1.0)] == [104.0, 105.0, None]

    def test_times_between_and_beyond_the_points_of_a_sheet(self) -> None:
        """ln(time) is linear in 1/T: half-way in 1/T the time is the geometric mean."""
        table = [["20 degC", "40 min"], ["30 degC", "10 min"]]
        middle = 2 / (1 / 293.15 + 1 / 303.15) - 273.15
        least = time_at(table, np.array([10.0, 20.0, middle, 30.0, 40.0]), longest=False)
        assert least == pytest.approx([np.inf, 2400, 1200, 600, 600])
        most = time_at(table, np.array([10.0, 20.0, middle, 30.0]), longest=True)
        assert most == pytest.approx([2400, 2400, 1200, 600])
        assert time_at(table, np.array([40.0]), longest=True)[0] < 600
