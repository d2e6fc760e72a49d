"""Deadband, floods and chattering against tests/data/check_values.json (`alm-…`; each case states its source and status)."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.alarms import rates
from booth.alarms.hysteresis import with_deadband
from booth.times import MINUTE, SECOND

CASES = json.loads((Path(__file__).parent.parent / "data/check_values.json").read_text(encoding="utf-8"))["cases"]
PUBLISHED = {case["id"]: case for case in CASES}
SERIES = [84, 85.2, 84.9, 84.1, 83.5, 82.9, 85.1]  # of alm-deadband


def test_deadband_published() -> None:
    case = PUBLISHED["alm-deadband"]
    limit, deadband = case["inputs"]["sp"], case["inputs"]["db"]
    assert with_deadband(SERIES, high=limit, deadband=deadband) == case["expected"]
    assert with_deadband(SERIES, high=limit, deadband=0) == [1, 2, 6]  # the case's own note
    assert with_deadband(-np.array(SERIES), low=-limit, deadband=deadband) == case["expected"], "a low limit is its mirror"


def test_silence_neither_sets_nor_clears() -> None:
    assert with_deadband([np.nan, 86, np.nan, np.nan, 80, np.nan], high=85, deadband=2) == [1, 4]
    assert with_deadband([], high=85, deadband=2) == []


@given(st.lists(st.integers(75, 95) | st.just(np.nan), max_size=40), st.integers(0, 6))
def test_deadband_against_a_plain_loop(values: list[float], deadband: int) -> None:
    turns, present = [], False
    for index, value in enumerate(values):
        if (not present and value >= 85) or (present and value < 85 - deadband):
            present = not present
            turns.append(index)
    assert with_deadband(values, high=85, deadband=deadband) == turns


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ({"deadband": 2}, "give one limit"),
        ({"high": 85, "low": 80, "deadband": 2}, "give one limit"),
        ({"high": 85, "deadband": -1}, "must not be negative"),
        ({"high": 85, "deadband": float("nan")}, "must not be negative"),
    ],
)
def test_deadband_refuses(arguments: dict[str, float], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        with_deadband(SERIES, **arguments)


def test_the_published_figures() -> None:
    assert [rates.FLOOD_ABOVE, rates.FLOOD_OVER_BELOW] == PUBLISHED["alm-isa-flood"]["expected"]
    assert rates.FLOOD_ABOVE == PUBLISHED["alm-eemua"]["expected"][1]
    assert rates.CHATTER_TIMES == PUBLISHED["alm-chatter"]["expected"]


def test_a_flood_begins_above_ten_and_lasts_until_below_five() -> None:
    minute_by_minute = [n * 30 * SECOND for n in range(11)]  # the 11th at 5 min; the 7th of them leaves the period at 13 min
    assert rates.floods(minute_by_minute[:10]) == []
    assert rates.floods(minute_by_minute) == [rates.Flood(5 * MINUTE, 13 * MINUTE, 1)]
    slower = [*minute_by_minute, *(6 * MINUTE + n * 2 * MINUTE for n in range(5))]  # five in ten minutes keep it going
    assert rates.floods(slower) == [rates.Flood(5 * MINUTE, 16 * MINUTE, 6)]


def test_one_every_ten_minutes_is_the_steady_rate() -> None:
    steady = [n * 10 * MINUTE for n in range(48)]
    assert {rates.per_ten_minutes(steady, moment) for moment in steady} == {PUBLISHED["alm-eemua"]["expected"][0]}


def test_chattering() -> None:
    assert rates.chatters([0, 30 * SECOND, 60 * SECOND])
    assert not rates.chatters([0, 30 * SECOND, 61 * SECOND])
    assert not rates.chatters([0, 1])
