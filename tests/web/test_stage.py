"""Until when the painter's page counts: to the moment, or under the guarded rule to the safe side of it."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from booth.judge.finding import Finding, Verdict, Window
from booth.times import MINUTE
from booth.web.painter.stage import _coming, _safe

AWAITED = Finding("f/flash_minimum", "flash_minimum", "f", Verdict.UNPROVEN, False, "", "duration", 900.0, None, "made-up sheet")


@pytest.mark.parametrize(
    ("guarded", "window", "counted"),
    [
        (False, Window(60, 90, 5, 7), Window(60, 90, 5, 7)),
        (True, Window(60, 90, 5, 7), Window(67, 85)),
        (True, Window(60, None, 5, None), Window(None, None)),  # perhaps never: nobody knows from when
        (True, Window(None, 90, 5, 7), Window(None, 85)),
        (True, Window(60, 90), Window(60, 90)),
    ],
)
def test_the_guarded_rule_counts_to_the_safe_side(guarded: bool, window: Window, counted: Window) -> None:
    minutes = Window(*(None if one is None else one * MINUTE for one in vars(window).values()))
    finding = Finding(**{**vars(AWAITED), "window": minutes})
    found = _safe(SimpleNamespace(finding=finding, requirement=SimpleNamespace(guarded=guarded))).window
    assert found == Window(*(None if one is None else one * MINUTE for one in vars(counted).values()))


INSPECT = SimpleNamespace(step=SimpleNamespace(step="inspect", kind="inspect"))


@pytest.mark.parametrize(
    ("cold", "may", "unknown"),
    [
        (Window(MINUTE * 190, None), MINUTE * 190, False),
        (Window(None, None), None, True),  # parts that stand at 55 °C: the ten minutes alone don't let anybody touch them
    ],
)
def test_the_next_step_waits_for_whatever_nobody_knows(cold: Window, may: int | None, unknown: bool) -> None:
    waited = Finding(**{**vars(AWAITED), "kind": "cool_minimum", "window": Window(MINUTE * 185, None, 5, 5)})
    below = Finding(**{**vars(AWAITED), "kind": "cool_below", "window": cold})
    found = _coming(INSPECT, [waited, below])
    assert (found.may, found.unknown) == (may, unknown)


def test_of_two_that_wait_either_may_be_the_last() -> None:
    waited = Finding(**{**vars(AWAITED), "kind": "cool_minimum", "window": Window(MINUTE * 185, None, MINUTE, MINUTE)})
    below = Finding(**{**vars(AWAITED), "kind": "cool_below", "window": Window(MINUTE * 184, None, 5 * MINUTE, None)})
    found = _coming(INSPECT, [waited, below])
    assert (found.may, found.sooner_s, found.later_s) == (MINUTE * 185, 60, None)
