"""Care that is due as conditions: before, at and after its date."""

from __future__ import annotations

from booth.alarms.care_due import care_conditions
from booth.judge.care import Due
from booth.times import HOUR

DAY = 24 * HOUR
AT = 1000 * DAY
KNOWN_SINCE = 900 * DAY


def one(at: int | None = AT, last: int | None = 970 * DAY, failed: bool = False, booth: str | None = "north") -> Due:
    return Due(booth, "gauge-tested", "FD-N", last, at, "shop rule", "Gauge test (FD-N) in north", failed)


def told(due: Due, now: int) -> list[tuple]:
    return [(c.id, c.priority, c.since, c.audience) for c in care_conditions([due], KNOWN_SINCE, now)]


def test_nothing_until_a_week_before() -> None:
    assert told(one(), AT - 7 * DAY - 1) == []


def test_a_warning_from_a_week_before_and_an_alarm_from_the_day() -> None:
    name = "north/care/gauge-tested/FD-N"
    assert told(one(), AT - 7 * DAY) == [(name, "warning", AT - 7 * DAY, "maintenance")]
    assert told(one(), AT) == told(one(), AT + 90 * DAY) == [(name, "alarm", AT, "maintenance")]


def test_what_was_never_recorded_is_due_since_the_rule_stands() -> None:
    assert told(one(at=None, last=None), AT)[0][2] == KNOWN_SINCE


def test_a_failed_test_counts_from_the_moment_it_failed() -> None:
    assert told(one(failed=True), 980 * DAY)[0][1:3] == ("alarm", 970 * DAY)


def test_what_belongs_to_no_booth_stands_in_the_shop() -> None:
    (condition,) = care_conditions([one(booth=None)], KNOWN_SINCE, AT)
    assert condition.booth == "shop" and condition.id.startswith("site/care/")
    assert "booth event gauge-tested" in condition.what_to_do
