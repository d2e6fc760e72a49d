"""Whatever stands, the screen keeps room for the air and the next window: one alarm large, two in a line, the rest behind one."""

from __future__ import annotations

import pytest

from booth.web.painter.view import _notices
from booth.web.painter.words import words

NOTICE = {
    "alarm": "TV-1/1/bake/bake_start", "token": "a@1", "priority": "alarm", "how": "closed", "about": "bake_start",
    "vehicle": "TV-1",
    "step": "bake", "late_us": None, "value": None, "low": None, "high": None, "quantity": None, "what_to_do": "Call.",
    "state": "unacknowledged", "raised": 1, "calm": False, "sound": True, "may_acknowledge": True, "immediate": False,
}  # fmt: skip


def shown(*changes: dict) -> dict:
    notices = [NOTICE | {"token": f"a@{number}"} | change for number, change in enumerate(changes)]
    return _notices({"notices": notices, "booth": "south", "mode": "flash", "as_of": 0}, words("en", "SI"))


def test_six_that_want_a_touch_are_one_large_two_lines_and_one_line_for_the_rest() -> None:
    told = shown(*({} for _ in range(6)))
    assert ["is-line" in one["is"] for one in told["notices"]] == [False, True, True]
    assert len(told["folded"]) == 3
    assert told["folded_words"] == "3 standing: TV-1 Bake start missed"


def test_what_was_acknowledged_or_is_over_leaves_the_room_to_what_is_new() -> None:
    told = shown({"state": "acknowledged"}, {"state": "returned_unacknowledged"}, {"priority": "warning"})
    assert [one["key"] for one in told["notices"]] == ["a@2"]
    assert [one["key"] for one in told["folded"]] == ["a@0", "a@1"]
    assert told["folded"][1]["act"], "it can still be acknowledged"


def test_a_hazard_that_goes_on_stays_in_sight_after_it_was_acknowledged() -> None:
    told = shown({"priority": "hazard", "state": "acknowledged", "about": "airflow", "how": "airflow", "immediate": True})
    assert len(told["notices"]) == 1 and not told["folded"]


def test_while_the_gun_is_on_a_climate_alarm_is_not_large_and_one_that_was_acknowledged_asks_for_nothing() -> None:
    told = shown({"calm": True, "may_acknowledge": False}, {"calm": True, "state": "acknowledged", "may_acknowledge": False})
    assert not told["notices"]
    assert [one["calm"] for one in told["folded"]] == ["Acknowledge when the gun is off.", ""]


@pytest.mark.parametrize("state", ["unacknowledged", "acknowledged"])
def test_a_wrong_mode_says_which(state: str) -> None:
    told = shown({"about": "mode", "how": "missed", "step": "sealer", "state": state})
    (one,) = [*told["notices"], *told["folded"]]
    assert one["phrase"] == "Booth is in mode “flash”: not the one for sealer"
