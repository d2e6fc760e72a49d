"""The judge is monotone where physics is: warmer never cures slower, more air never purges less, later is later."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.judge.evidence import Evidence
from booth.judge.finding import Verdict
from booth.judge.judge import judge
from booth.judge.series import Series
from booth.physics.pace import Pace
from booth.shop.requirement import FlashTerms, StartTerms
from booth.times import MINUTE, SECOND
from tests.judge.every_kind import Kind, excess_s, kinds, purge, raised
from tests.judge.made_up import MAX_AGE, START, a_pass, a_requirement, at

PERIOD = 5 * SECOND
COUNT = 60
END = START + COUNT * PERIOD
BADNESS = {Verdict.MET: 0, Verdict.UNPROVEN: 1, Verdict.MISSED: 2}

traces = st.lists(st.floats(50, 75, width=32), min_size=COUNT, max_size=COUNT)
present = st.lists(st.booleans() | st.just(True) | st.just(True), min_size=COUNT, max_size=COUNT)
rises = st.lists(st.floats(0, 10, width=32), min_size=COUNT, max_size=COUNT)


def readings(values: list[float], there: list[bool] | None = None) -> Series:
    keep = np.array(there if there is not None else [True] * len(values), bool)
    times = START + PERIOD * np.arange(len(values), dtype=np.int64)
    return Series(times[keep], np.array(values, float)[keep], MAX_AGE)


@pytest.mark.parametrize("guarded", [False, True], ids=["simple", "guarded"])
@pytest.mark.parametrize("number", range(len(kinds())), ids=[str(one) for one in kinds()])
@settings(max_examples=40, deadline=None)
@given(values=traces, there=present, rise=rises)
def test_warmer(number: int, guarded: bool, values, there, rise) -> None:
    """With the same readings lost. What counts up to a minimum gets on no slower; what counts down to a maximum no better."""
    kind = kinds(guarded)[number]
    cool = readings(values, there)
    warm = raised(cool, np.array(rise)[np.array(there, bool)])
    one, two = kind.find(cool, START, END), kind.find(warm, START, END)
    if kind.warmer is not None:
        assert kind.warmer * (BADNESS[two.verdict] - BADNESS[one.verdict]) >= 0
    if kind.name == "air_temperature":
        assert excess_s(two) >= excess_s(one)
    elif kind.name == "heat_up":
        assert one.observed is None or two.observed <= one.observed
    elif kind.name != "heating_rate" and one.observed is not None:
        assert two.observed >= one.observed - 1e-9


@settings(max_examples=60, deadline=None)
@given(values=traces, by=st.floats(-30, 30), times=st.floats(1, 3))
def test_a_heating_rate_is_a_difference(values, by: float, times: float) -> None:
    """The same at any level, and in proportion to the climb."""
    (kind,) = (one for one in kinds() if one.name == "heating_rate")
    plain = readings(values)
    rate = kind.find(plain, START, END).observed
    assert kind.find(raised(plain, by), START, END).observed == pytest.approx(rate, abs=1e-9)
    steeper = Series(plain.times, 50 + times * (plain.values - 50), MAX_AGE)
    assert kind.find(steeper, START, END).observed == pytest.approx(times * rate, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("guarded", [False, True], ids=["simple", "guarded"])
@settings(max_examples=60, deadline=None)
@given(
    flow=st.lists(st.floats(0, 25, width=32), min_size=COUNT, max_size=COUNT),
    there=present,
    more=st.floats(0, 5),
    times=st.floats(1, 3),
)
def test_more_air_never_purges_less(guarded: bool, flow, there, more: float, times: float) -> None:
    kind: Kind = purge(guarded)
    little = readings(flow, there)
    much = raised(little, more)
    one, two = kind.find(little, START, END), kind.find(much, START, END)
    assert two.observed >= one.observed and BADNESS[two.verdict] <= BADNESS[one.verdict]
    scaled = Series(little.times, times * little.values, MAX_AGE)
    assert kind.find(scaled, START, END).observed == pytest.approx(times * one.observed, rel=1e-9, abs=1e-12)


waits = st.integers(0, 60 * 60)


def bake_start(waited_s: int, guarded: bool):
    requirement = a_requirement(
        "bake_start", StartTerms(10 * MINUTE, 30 * MINUTE), "duration", low=600.0, high=1800.0, guarded=guarded
    )
    begun = at(0) + waited_s * SECOND
    evidence = Evidence(begun, None, before=(a_pass(-10, 0),), moments={"entered": 15 * SECOND})
    return judge(requirement, evidence, begun + SECOND)


@pytest.mark.parametrize("guarded", [False, True], ids=["simple", "guarded"])
@settings(max_examples=60, deadline=None)
@given(one=waits, two=waits)
def test_a_bake_that_starts_later_has_waited_longer(guarded: bool, one: int, two: int) -> None:
    """By as much. Towards the latest moment it only gets worse, from the earliest on only better."""
    early, late = bake_start(min(one, two), guarded), bake_start(max(one, two), guarded)
    assert late.observed - early.observed == pytest.approx(abs(one - two))
    if min(one, two) >= 1200:
        assert BADNESS[late.verdict] >= BADNESS[early.verdict]
    if max(one, two) <= 1200:
        assert BADNESS[late.verdict] <= BADNESS[early.verdict]


@pytest.mark.parametrize("guarded", [False, True], ids=["simple", "guarded"])
@settings(max_examples=60, deadline=None)
@given(one=waits, two=waits)
def test_a_longer_cool_down_is_never_worse(guarded: bool, one: int, two: int) -> None:
    terms = FlashTerms(Pace.fixed(900), None)
    requirement = a_requirement("cool_minimum", terms, "duration", low=900.0, guarded=guarded)
    short, long = (
        judge(requirement, Evidence(at(0), at(0) + s * SECOND, moments={"entered": 15 * SECOND}), at(100))
        for s in sorted((one, two))
    )
    assert long.observed - short.observed == pytest.approx(abs(one - two))
    assert BADNESS[long.verdict] <= BADNESS[short.verdict]
