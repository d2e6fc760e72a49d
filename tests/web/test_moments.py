"""Wall-clock times of the desk's pages. Clock changes of America/Chicago are those of the IANA time zone database (tzdata)."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from booth.times import HOUR, parse_time
from booth.web.desk.moments import MomentError, Moments, read_day

CHICAGO = ZoneInfo("America/Chicago")
NOW = parse_time("2026-07-13T19:00:00Z")


def moments(now: int = NOW) -> Moments:
    return Moments(CHICAGO, now)


def test_today_is_told_without_its_date_and_another_day_with_it() -> None:
    assert moments().at("2026-07-13T19:00:00Z") == "14:00"
    assert moments().at("2026-07-12T19:00:00Z") == "12 Jul 14:00"
    assert moments().at("2025-07-12T19:00:00Z") == "12 Jul 2025 14:00"
    assert moments().at(None) == "–"


def test_a_repeated_hour_says_which_one_it_is() -> None:
    """On 1 November 2026 clocks go back at 02:00 CDT: 01:30 comes twice, an hour apart."""
    night = moments(parse_time("2026-11-01T12:00:00Z"))
    assert night.at("2026-11-01T06:30:00Z") == "01:30 UTC−05:00"
    assert night.at("2026-11-01T07:30:00Z") == "01:30 UTC−06:00"
    assert night.at("2026-11-01T08:30:00Z") == "02:30"


def test_a_day_of_a_clock_change_has_its_own_length() -> None:
    def hours(first: str, second: str) -> float:
        return (moments().midnight(date.fromisoformat(second)) - moments().midnight(date.fromisoformat(first))) / HOUR

    assert hours("2026-11-01", "2026-11-02") == 25
    assert hours("2026-03-08", "2026-03-09") == 23
    assert hours("2026-07-13", "2026-07-14") == 24


def test_a_field_is_read_in_the_sites_zone() -> None:
    assert moments().read("2026-07-13T14:00") == NOW
    assert moments().read("2026-11-01T01:30") == parse_time("2026-11-01T06:30:00Z")  # the first of the two
    assert moments().read("2026-03-08T02:30") == parse_time("2026-03-08T08:30:00Z")  # which the clock leaves out
    assert moments().read(moments().field(NOW)) == NOW


@pytest.mark.parametrize("text", ["", "yesterday", "2026-13-01", "9999-12-31", "0001-01-01", "2026-07-13T14:00"])
def test_what_is_no_date_is_said(text: str) -> None:
    with pytest.raises(MomentError, match="is not a date; write for example"):
        read_day(text)
