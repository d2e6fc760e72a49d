"""Days and moments on the command line; the midnights are those of the IANA time zone database."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from booth.cli.app import UsageError
from booth.cli.days import beginning, ending
from booth.times import HOUR, TimeError, parse_time

CHICAGO = ZoneInfo("America/Chicago")


def test_a_day_is_the_sites_own_and_the_last_one_is_in_the_period() -> None:
    assert beginning("2026-07-13", CHICAGO) == parse_time("2026-07-13T05:00:00Z")
    assert ending("2026-07-13", CHICAGO) == parse_time("2026-07-14T05:00:00Z")


@pytest.mark.parametrize(("day", "hours"), [("2026-03-08", 23), ("2026-11-01", 25), ("2026-06-01", 24)])
def test_days_on_which_the_clocks_turn(day: str, hours: int) -> None:
    assert ending(day, CHICAGO) - beginning(day, CHICAGO) == hours * HOUR


def test_a_moment_is_taken_as_it_is_written() -> None:
    assert beginning("2026-07-13T08:00:00-05:00", CHICAGO) == ending("2026-07-13T13:00:00Z", CHICAGO)


def test_what_is_neither_is_told() -> None:
    with pytest.raises(UsageError, match="2026-02-30 is not a day"):
        beginning("2026-02-30", CHICAGO)
    with pytest.raises(TimeError, match="write for example"):
        ending("yesterday", CHICAGO)
