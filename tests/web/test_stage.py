"""Until when the painter's page counts: to the moment, or under the guarded rule to the safe side of it."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from booth.judge.finding import Finding, Verdict, Window
from booth.times import MINUTE
from booth.web.painter.stage import _safe

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
