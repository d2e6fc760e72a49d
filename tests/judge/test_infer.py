"""Steps told by the instruments: coats by the guns, purge, bake and cool by the mode; and which vans have something in common."""

from __future__ import annotations

import numpy as np
import pytest

from booth.judge.coats import told_by_guns
from booth.judge.infer import Stretch, gun_bursts, mode_stretches, told_by_mode
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.judge.tracing import near_vehicle, vehicles_in_booth, vehicles_with_lot
from booth.times import MINUTE, SECOND
from tests.judge.made_up import Van, at, good_van, series, shop, without

BAKE = 4


def on(*spells: tuple[float, float], flow: float = 200.0):
    """A gun that sprays in each of some spells."""
    return series(lambda m: flow * np.logical_or.reduce([(m >= a) & (m < b) for a, b in spells]), 0, 60)


def bursts(*guns: Series, until: float = 60) -> list[tuple]:
    found = gun_bursts(guns, 60.0, 90 * SECOND, 3 * MINUTE, at(until))
    return [(one.start, one.end) for one in found]


class TestGuns:
    def test_dust_blown_off_a_while_before_is_not_the_beginning_of_the_coat(self) -> None:
        assert bursts(on((7, 7.5), (10, 14))) == [(at(10), at(14))]  # 2 min 30 s between them
        assert bursts(on((9, 9.5), (10, 14))) == [(at(9), at(14))]  # a first stroke
        assert bursts(on((7, 9), (11.5, 14))) == [(at(7), at(14))]  # long enough to be a coat: a pause in it

    def test_a_minute_and_a_half_is_a_coat_and_less_is_none(self) -> None:
        assert bursts(on((10, 11.5))) == [(at(10), at(11.5))]
        assert bursts(on((10, 11.4))) == []
        assert bursts(on((10, 10.75), (12, 12.75))) == [(at(10), at(12.75))]  # gun time, not the time between

    def test_a_coat_with_pauses_is_one_and_a_blow_gun_none(self) -> None:
        assert bursts(on((5, 5.3), (10, 12), (13.5, 20), (30, 31))) == [(at(10), at(20))]

    def test_two_guns_make_one_coat(self) -> None:
        assert bursts(on((10, 14)), on((12, 22))) == [(at(10), at(22))]

    def test_a_longer_pause_ends_it_and_until_then_it_is_open(self) -> None:
        gun = on((10, 14), (20, 24))
        assert bursts(gun) == [(at(10), at(14)), (at(20), at(24))]
        assert bursts(gun, until=26) == [(at(10), at(14)), (at(20), None)]

    def test_a_gun_that_falls_silent_sprays_no_longer_than_its_reading_speaks(self) -> None:
        gun = without(on((10, 40)), 20, 60)
        assert bursts(gun) == [(at(10), at(20) - 5 * SECOND + gun.max_age_us)]


class TestMode:
    def test_from_the_first_word_to_the_first_other_one(self) -> None:
        mode = series(lambda m: np.where((m >= 10) & (m < 40), BAKE, 0), 0, 60)
        assert mode_stretches(mode, BAKE, at(60)) == [Stretch(at(10), at(40))]
        assert mode_stretches(mode, BAKE, at(30)) == [Stretch(at(10), None)]

    def test_a_controller_passing_through_bakes_nothing(self) -> None:
        mode = series(lambda m: np.where((m >= 10) & (m < 10.05), BAKE, 0), 0, 60)
        assert mode_stretches(mode, BAKE, at(60)) == []

    def modes(self, *spells: tuple[float, float], until: float = 60) -> list[tuple]:
        """Bake in some spells of minutes, idle otherwise, told every second."""
        said = series(lambda m: np.where(np.logical_or.reduce([(m >= a) & (m < b) for a, b in spells]), BAKE, 0), 0, 60, 1)
        return [
            ((one.start - at(0)) / SECOND, None if one.end is None else (one.end - at(0)) / SECOND)
            for one in mode_stretches(said, BAKE, at(until))
        ]

    def test_a_mode_that_never_spoke_says_nothing(self) -> None:
        assert mode_stretches(series(BAKE, 0, 0), BAKE, at(60)) == []

    def test_a_word_in_between_that_was_too_short_interrupts_nothing(self) -> None:
        assert self.modes((10, 20), (20.1, 30)) == [(600, 1800)]  # 6 s of another mode
        assert self.modes((10, 20), (20.2, 30)) == [(600, 1200), (1212, 1800)]  # 12 s
        assert self.modes((10, 20), (20.1, 30), (30.1, 40)) == [(600, 2400)]

    def test_an_end_has_come_only_when_the_other_mode_has_lasted(self) -> None:
        assert self.modes((10, 20), until=20 + 5 / 60) == [(600, None)]
        assert self.modes((10, 20), until=20 + 9 / 60) == [(600, 1200)]

    def test_eight_seconds_make_a_mode_and_seven_do_not(self) -> None:
        assert self.modes((10, 10 + 8 / 60)) == [(600, 608)]
        assert self.modes((10, 10 + 7 / 60)) == []


class TestTold:
    def van(self, *steps: tuple) -> tuple:
        made = Van(shop())
        made.tell("job-open", 0, process="standard")
        for step in steps:
            made.step(*step)
        return made.job(), made.shop.processes["standard"]

    @pytest.mark.parametrize(
        ("steps", "moved_on", "told"),
        [
            ((), None, [("sealer", 20, 30)]),
            ((("sealer", 5, 15),), None, [("base-1", 20, 30)]),
            ((("sealer", 5, 15), ("base-1", 19, 31)), None, []),
            ((("sealer", 5, 15), ("base-1", 19, None)), None, []),  # the painter may only rest
            ((("sealer", 5, 15), ("base-1", 19, None)), 40, [("base-1", 20, 30)]),
            ((("sealer", 5, 15), ("clear-1", 40, 50)), None, [("base-1", 20, 30)]),
            ((("base-1", 40, 50),), None, [("sealer", 20, 30)]),
            ((("sealer", 5, 15), ("base-1", 19, None), ("clear-1", 40, 50)), None, [("base-1", 20, 30)]),  # nobody rests any more
        ],
    )
    def test_which_coat_a_burst_was(self, steps, moved_on, told: list) -> None:
        burst = [Stretch(at(20), at(30))]
        found = told_by_guns(*self.van(*steps), "north", burst, None if moved_on is None else at(moved_on))
        assert [(one.step, one.start, one.end) for one in found] == [(step, at(start), at(end)) for step, start, end in told]

    @pytest.mark.parametrize(
        ("steps", "moved_on", "told"),
        [
            ((("base-1", 19, None), ("clear-2", 80, None)), None, ["base-1", "clear-1"]),  # an end and the next start forgotten
            ((("base-1", 19, None), ("clear-1", 80, None)), None, ["base-1", "base-1"]),  # a coat with a long break in it
            ((("base-1", 19, None),), 90, ["base-1", "clear-1"]),
            ((("base-1", 19, None),), None, []),
        ],
    )
    def test_two_bursts_and_one_button(self, steps, moved_on, told: list) -> None:
        bursts = [Stretch(at(20), at(30)), Stretch(at(45), at(55))]
        found = told_by_guns(*self.van(*steps), "north", bursts, None if moved_on is None else at(moved_on))
        assert [(one.step, one.start, one.end) for one in found] == [
            (step, burst.start, burst.end) for step, burst in zip(told, bursts, strict=False)
        ]
        assert {(one.vehicle, one.booth, one.channel) for one in found} <= {("TV-1", "north", "inferred")}

    def test_the_same_fact_has_the_same_id_for_ever(self) -> None:
        job, process = self.van(("clear-2", 0, 8))
        stretches = {"bake": [Stretch(at(20), at(30))], "purge": [Stretch(at(10), at(12))]}
        first, again = (told_by_mode(job, process, "north", stretches, at(0)) for _ in range(2))
        assert [(one.step, one.channel) for one in first] == [("purge", "signalled"), ("bake", "signalled")]
        assert {(one.vehicle, one.booth) for one in first} == {("TV-1", "north")}
        assert [(one.start, one.end) for one in first] == [(at(10), at(12)), (at(20), at(30))]
        assert told_by_mode(*self.van(), "north", stretches, at(0)) == []  # a booth is also warmed before the work
        assert told_by_mode(job, process, "north", stretches, at(40)) == []  # another van's
        assert [one.step for one in told_by_mode(job, process, "north", stretches, at(20))] == ["bake"]  # from then on its own
        assert [one.entry_id("step-start") for one in first] == [one.entry_id("step-start") for one in again]
        assert len({one.entry_id(kind) for one in first for kind in ("step-start", "step-end")}) == 4


def test_what_vans_have_in_common() -> None:
    made = good_van()
    made.tell("load", 300, booth="north", vans=[{"vehicle": "TV-2"}])
    made.tell("job-open", 300, vehicle="TV-2", process="standard")
    made.step("clear-1", 310, 320, vehicle="TV-2", mix="M-3")
    ledger = Ledger(made.entries)
    assert vehicles_with_lot(ledger, "R-M-3") == {
        "TV-1": ["clear-1: resin R-M-3", "clear-2: resin R-M-3"],
        "TV-2": ["clear-1: resin R-M-3"],
    }
    assert vehicles_in_booth(ledger, "north", at(0), at(100)) == {"TV-1": ["stood in north"]}
    assert near_vehicle(ledger, "TV-1") == {"TV-2": ["shares hardener H-M-3", "shares resin R-M-3", "same shift in north"]}
    assert near_vehicle(ledger, "TV-9") == {}
