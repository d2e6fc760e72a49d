"""Instruments: the lag's closed form, the noise's size, and every fault by its definition in scenario.Fault."""

from __future__ import annotations

from math import exp
from random import Random
from statistics import fmean, stdev

import pytest

from simulators.instruments import Instrument, Kind, kind_of
from simulators.scenario import Fault

QUIET = Kind("degC", 1)


def instrument(*faults: Fault, kind: Kind = QUIET) -> Instrument:
    made = Instrument("north/part-1", kind, Random(1), faults, _fade=exp(-1 / kind.lag_s) if kind.lag_s else 0.0)
    made.follow(20.0)
    return made


def fault(kind: str, amount: float = 0.0) -> Fault:
    return Fault("north/part-1", kind, 100, 200, amount)


def test_lag_is_a_first_order_step_response() -> None:
    """After one time constant 63.2 % of a step, after three 95.0 % (the definition of a first-order lag)."""
    lagging = instrument(kind=Kind("degC", 6, lag_s=15.0))
    for second in range(1, 46):
        lagging.follow(30.0)
        if second in (15, 45):
            assert lagging.shown == pytest.approx(30.0 - 10.0 * exp(-second / 15.0))


def test_noise_has_its_stated_size_and_no_bias() -> None:
    noisy = instrument(kind=Kind("degC", 4, noise=0.5))
    sent = [noisy.send(second)[0][1] for second in range(4000)]
    assert stdev(sent) == pytest.approx(0.5, rel=0.05)
    assert fmean(sent) == pytest.approx(20.0, abs=0.04)


def test_rounding_and_floor() -> None:
    assert instrument(kind=Kind("Pa", -1)).send(0)[0][1] == 20.0
    below = instrument(kind=Kind("percent", 1, lowest=0.0))
    below.follow(-3.0)
    assert below.send(0)[0][1] == 0.0


def test_silence() -> None:
    silent = instrument(fault("silent"))
    assert [len(silent.send(second)) for second in (95, 100, 195, 200)] == [1, 0, 0, 1]


def test_stuck_at_the_value_it_had() -> None:
    stuck = instrument(fault("stuck"))
    stuck.send(100)
    stuck.follow(25.0)
    assert (stuck.send(150)[0][1], stuck.send(200)[0][1]) == (20.0, 25.0)


def test_bias_and_drift() -> None:
    assert instrument(fault("bias", 1.5)).send(100)[0][1] == 21.5
    drifting = instrument(Fault("north/part-1", "drift", 0, 7200, 2.0))
    assert (drifting.send(0)[0][1], drifting.send(3600)[0][1]) == (20.0, 22.0)


def test_wrong_clock() -> None:
    assert instrument(fault("clock", -90.0)).send(100)[0][0] == 10.0


def test_doubled_and_late() -> None:
    assert len(instrument(fault("doubled", 1.0)).send(100)) == 2
    late = instrument(fault("late", 1.0))
    assert {late.send(second)[0][2] for second in range(100, 200)} == {1, 2, 3}
    assert instrument(fault("late", 0.0)).send(100)[0][2] == 0


def test_another_points_fault_is_not_mine() -> None:
    other = Instrument.seeded("north/part-2", 1, (fault("silent"),))
    assert other.faults == ()


def test_unknown_fault_says_where_to_look() -> None:
    with pytest.raises(ValueError, match="north/part-1: no fault 'tired'; see simulators.scenario.Fault"):
        instrument(fault("tired")).send(100)


def test_kind_is_the_name_without_its_number() -> None:
    assert kind_of("south/gun-2").unit == "L/min"
    assert kind_of("mix-room/pot-1").unit == "degC"
    assert kind_of("north/filter-drop").decimals == 1
