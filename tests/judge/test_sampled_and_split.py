"""However often an instrument speaks, and wherever a stretch is cut in two, the judge finds the same, within a stated bound.

On straight lines between minutes, so that readings every second and every five seconds lie on the same curve. What a rule adds up
along lines is exact but for the last reading, which is held for one period at most.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.judge.series import Series
from booth.times import MINUTE, SECOND
from tests.judge.every_kind import PACE, VOLUME_M3, Kind, excess_s, kinds, purge
from tests.judge.made_up import START, at, line, series

heights = st.lists(st.floats(52, 74, width=32), min_size=7, max_size=7)
FASTEST = {"minimum": PACE.pace_per_s(74.0, "minimum"), "maximum": PACE.pace_per_s(74.0, "maximum")}
PERIOD_S = 5.0


def steepest(corners: list[float]) -> float:
    """K/s."""
    return max(abs(b - a) for a, b in zip(corners, corners[1:], strict=False)) / 60


def crossings(corners: list[float], level: float) -> int:
    return sum((a - level) * (b - level) <= 0 for a, b in zip(corners, corners[1:], strict=False))


def bound(kind: Kind, corners: list[float]) -> float:
    """How far two rhythms, one period apart, may differ in what they find."""
    side = "maximum" if kind.name in ("flash_maximum", "pot_life") else "minimum"
    match kind.name.partition(",")[0]:
        case "flash_minimum" | "flash_maximum" | "pot_life" | "dwell":
            return PERIOD_S * FASTEST[side]
        case "heat_up" | "over_bake":
            return PERIOD_S
        case "peak" | "cool_below":
            return PERIOD_S * steepest(corners)
        case "heating_rate":
            return 2 * PERIOD_S * steepest(corners)  # K/min over a minute, each end a period off
    raise ValueError(f"no bound is stated for {kind}")


MEASURED = [one for one in kinds() if one.name not in ("air_temperature", "dwell, restart")]
"""Without climate (tests/judge/test_judge_properties.py), and a dwell that starts anew: one reading more or less of the dip that
makes it do so decides everything, rightly."""


@pytest.mark.parametrize("kind", MEASURED, ids=str)
@settings(max_examples=40, deadline=None)
@given(corners=heights, minutes=st.integers(2, 6))
def test_sampled_every_second_or_every_five(kind: Kind, corners: list[float], minutes: int) -> None:
    one, five = (kind.find(series(line(*enumerate(corners)), 0, 6, period), START, at(minutes)) for period in (1, PERIOD_S))
    if one.observed is None or five.observed is None:
        assert one.observed is five.observed or kind.name == "heat_up"
        return
    dips = crossings(corners, 60.0) if kind.name == "dwell, pause" else 0
    assert one.observed == pytest.approx(five.observed, abs=bound(kind, corners) * (1 + dips) + 1e-9)


@settings(max_examples=40, deadline=None)
@given(corners=heights)
def test_who_reaches_a_temperature_by_one_rhythm_reaches_it_by_the_other(corners: list[float]) -> None:
    """Corners of the lines are readings of both."""
    (kind,) = (one for one in kinds() if one.name == "heat_up")
    one, five = (kind.find(series(line(*enumerate(corners)), 0, 6 + 1 / 60, p), START, at(6)) for p in (1, PERIOD_S))
    assert (one.observed is None) == (five.observed is None)


@settings(max_examples=40, deadline=None)
@given(flows=st.lists(st.floats(0, 25, width=32), min_size=7, max_size=7), minutes=st.integers(1, 6))
def test_a_purge_sampled_every_second_or_every_five(flows: list[float], minutes: int) -> None:
    shape = line(*enumerate(flows))
    one, five = (purge().find(series(shape, 0, 6, period), START, at(minutes)).observed for period in (1, PERIOD_S))
    assert one == pytest.approx(five, abs=PERIOD_S * 25 / VOLUME_M3)


def halves(kind: Kind, known: Series, cut: int, end: int):
    """A stretch cut in two; each half knows what had been read by its end."""
    first = Series(known.times[known.times < cut], known.values[known.times < cut], known.max_age_us)
    before = max(0, int((known.times <= cut).sum()) - 1)
    second = Series(known.times[before:], known.values[before:], known.max_age_us)
    return kind.find(first, START, cut), kind.find(second, cut, end), kind.find(known, START, end)


ADDED_UP = [one for one in kinds() if one.name in ("flash_minimum", "flash_maximum", "pot_life", "over_bake", "dwell, go_on")]


@pytest.mark.parametrize("kind", [*ADDED_UP, purge()], ids=str)
@settings(max_examples=40, deadline=None)
@given(corners=heights, cut_s=st.integers(1, 359))
def test_what_adds_up_adds_up_over_two_halves(kind: Kind, corners: list[float], cut_s: int) -> None:
    """But for the last reading before the cut, which the first half holds and the whole joins to the next."""
    known = series(line(*enumerate(corners)), 0, 6, PERIOD_S)
    first, second, whole = halves(kind, known, START + cut_s * SECOND, at(6))
    if kind.name == "purge_volumes":
        most = PERIOD_S * PERIOD_S * steepest(corners) / VOLUME_M3
    elif kind.name == "over_bake":
        most = PERIOD_S
    else:
        most = PERIOD_S * FASTEST["maximum" if kind.name in ("flash_maximum", "pot_life") else "minimum"]
    assert first.observed + second.observed == pytest.approx(whole.observed, abs=most + 1e-9)


@settings(max_examples=60, deadline=None)
@given(corners=heights, cut_s=st.integers(1, 359))
def test_the_worst_of_two_halves_is_the_worst_of_the_whole(corners: list[float], cut_s: int) -> None:
    known = series(line(*enumerate(corners)), 0, 6, PERIOD_S)
    (peak,) = (one for one in kinds() if one.name == "peak")
    first, second, whole = halves(peak, known, START + cut_s * SECOND, at(6))
    assert whole.observed == max(first.observed, second.observed)
    (climate,) = (one for one in kinds() if one.name == "air_temperature")
    first, second, whole = halves(climate, known, START + cut_s * SECOND, at(6))
    assert excess_s(first) + excess_s(second) == pytest.approx(excess_s(whole), abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(corners=heights, cut_s=st.integers(60, 300))
def test_a_climb_across_the_cut_is_in_neither_half_and_no_other_is(corners: list[float], cut_s: int) -> None:
    known = series(line(*enumerate(corners)), 0, 6, PERIOD_S)
    (rate,) = (one for one in kinds() if one.name == "heating_rate")
    first, second, whole = halves(rate, known, START + cut_s * SECOND, at(6))
    apart = [one.observed for one in (first, second) if one.observed is not None]
    assert whole.observed >= max(apart, default=-1e9) - 1e-9


@pytest.mark.parametrize("kind", kinds(), ids=str)
@settings(max_examples=20, deadline=None)
@given(corners=heights, days=st.integers(-3000, 3000), us=st.integers(0, 999_999))
def test_the_same_on_any_day(kind: Kind, corners: list[float], days: int, us: int) -> None:
    later = days * 24 * 60 * MINUTE + us
    known = series(line(*enumerate(corners)), 0, 6, PERIOD_S)
    moved = Series(known.times + later, known.values, known.max_age_us)
    now, then = kind.find(known, START, at(6)), kind.find(moved, START + later, at(6) + later)
    assert (now.verdict, now.sentence) == (then.verdict, then.sentence)
    assert now.observed == pytest.approx(then.observed, rel=1e-12) if now.observed is not None else then.observed is None
