"""How documents say moments, delays, limits and hostile letters."""

from __future__ import annotations

import made_up_record
import pytest

from booth.reports.words import SiteClock, clean, clean_all, lateness, limit_words, margin_words, measured_words, spread_words
from booth.times import MINUTE, SECOND

CLOCK = SiteClock.at_site("America/Chicago", "2026-07-13T11:05:00Z")


def test_times_are_local_with_the_date_only_on_another_day() -> None:
    assert CLOCK.at("2026-07-13T14:04:00Z") == "09:04:00"
    assert CLOCK.at("2026-07-14T14:04:00Z") == "2026-07-14 09:04:00"
    assert CLOCK.full("2026-07-14T03:30:00Z") == "2026-07-13 22:30:00"
    assert CLOCK.at(None) == "–"


def test_a_moment_beyond_a_clock_change_names_its_own_offset() -> None:
    """US daylight time ends on the first Sunday of November at 2 a.m. (15 U.S.C. 260a): 2026-11-01, 07:00 UTC in this zone."""
    assert CLOCK.at("2026-11-01T06:59:59Z") == "2026-11-01 01:59:59"
    assert CLOCK.at("2026-11-01T07:00:00Z") == "2026-11-01 01:00:00 (UTC−06:00)"
    assert "America/Chicago, UTC−05:00" in CLOCK.sentence()


def test_spans_say_what_is_known() -> None:
    start, end = made_up_record.at("09:12:05"), made_up_record.at("09:36:10")
    assert CLOCK.span(start, end) == "09:12:05 to 09:36:10 (24 min 05 s)"
    assert [CLOCK.span(start, None), CLOCK.span(None, end), CLOCK.span(None, None)] == [
        "from 09:12:05",
        "until 09:36:10",
        "time not known",
    ]


@pytest.mark.parametrize(("us", "words"), [(14 * MINUTE, "14 min late"), (-3 * MINUTE, "3 min early"), (SECOND // 2, "on time")])
def test_lateness(us: int, words: str) -> None:
    assert lateness(us) == words


def test_limits_and_distances() -> None:
    assert limit_words(20.0, None, "temperature") == "at least 20.0 °C (68.0 °F)"
    assert limit_words(None, 75.0, "humidity") == "at most 75 %"
    assert limit_words(None, None, "humidity") == "not stated"
    # The distance between two temperatures is a difference: 1 K = 1.8 °F (NIST SP 811, B.8), never 33.8 °F.
    assert spread_words(-1.0, "temperature") == "1.0 K (1.8 °F difference)"
    assert measured_words("50.8 um", "film") == "51 µm (2.0 mil)"  # 1 mil = 25.4 µm exactly
    assert measured_words("about 60", "film") == "about 60" and measured_words(None, "film") == "redacted"


def test_margins() -> None:
    window = {"earliest": None, "latest": None}
    finding = {"margin": -840.0, "quantity": "duration", "low": 600.0, "high": 1800.0, "observed": 2640.0, "window": window}
    assert margin_words(finding) == "14 min late"
    assert margin_words(finding | {"observed": 500.0, "margin": -100.0}) == "1 min 40 s early"
    assert margin_words(finding | {"margin": 60.0}) == "margin 1 min"
    assert margin_words(finding | {"quantity": "humidity", "margin": -2.0, "window": None}) == "beyond by 2 %"
    assert margin_words(finding | {"margin": None}) is None


def test_clean_shows_commands_and_leaves_letters() -> None:
    kept = "Zażółć שלום مرحبا 中文 é 😀 line\nline"
    assert clean(kept) == kept
    assert clean("a\u202eb\u2066c\x00\ud800\ufeff") == "a[U+202E]b[U+2066]c[U+0000][U+D800][U+FEFF]"
    assert clean_all({"\x07": ["\x07", 1, None]}) == {"[U+0007]": ["[U+0007]", 1, None]}
