"""Floods and chattering against tests/data/check_values.json (`alm-…`; each case states its source and status)."""

from __future__ import annotations

import json
from pathlib import Path

from booth.alarms import rates
from booth.times import MINUTE, SECOND

CASES = json.loads((Path(__file__).parent.parent / "data/check_values.json").read_text(encoding="utf-8"))["cases"]
PUBLISHED = {case["id"]: case for case in CASES}


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
