"""The ventilation log's arithmetic on made-up readings with known answers, and its page."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from booth.judge.health.entries import interval_body
from booth.judge.health.spans import Interval
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.reports.ventilation_air import Room
from booth.store import Entry, Reading, Store
from booth.times import HOUR, MINUTE, SECOND, parse_time
from booth.web.desk import ventilation_page
from booth.web.desk.day_log import day_log
from booth.web.desk.moments import MomentError, Moments
from booth.web.desk.shared import Desk
from booth.web.desk.strip import strip
from booth.web.desk.ventilation_page import days_asked
from tests.app.plants import demo_shop
from tests.web.conftest import csrf_of

SOUTH = demo_shop().booths["south"]
START = parse_time("2026-07-13T05:00:00Z")  # midnight in Chicago
SPRAY, IDLE = (SOUTH.points["mode"].words.index(word) for word in ("spray", "idle"))


class Made:
    """Readings by point, [(moment, value)], with the contract of the store's evidence()."""

    def __init__(self, **points: list[tuple[int, float]]) -> None:
        self._points = {f"south/{name.replace('_', '-')}": rows for name, rows in points.items()}

    def evidence(self, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        rows = [row for row in self._points.get(point, []) if start - max_age_us <= row[0] < end]
        times, values = zip(*rows, strict=True) if rows else ((), ())
        return Series(np.array(times, np.int64), np.array(values, np.float64), max_age_us)


def every(seconds: int, start: int, end: int, value) -> list[tuple[int, float]]:
    steps = range(start, end, seconds * SECOND)
    return [(moment, value(moment) if callable(value) else value) for moment in steps]


def an_hour() -> Made:
    """10 min idle, 30 min spray, a silence of 10 min, 10 min idle; the air too slow for 2 min of the spraying."""
    modes = every(10, START, START + 10 * MINUTE, IDLE) + every(10, START + 10 * MINUTE, START + 40 * MINUTE, SPRAY)
    modes += every(10, START + 50 * MINUTE, START + HOUR, IDLE)
    slow = (START + 20 * MINUTE, START + 22 * MINUTE)
    air = every(10, START, START + HOUR, lambda moment: 0.30 if slow[0] <= moment < slow[1] else 0.50)
    return Made(mode=modes, air_velocity=air, filter_drop=every(10, START, START + HOUR, 120.0))


def log_of(readings: Made, hours: int = 1, ledger: Ledger | None = None):
    room = Room("south", SOUTH, readings, ledger or Ledger())
    return day_log(room, date(2026, 7, 13), START, START + hours * HOUR)


def test_what_is_known_is_summed_and_what_is_not_is_a_hole() -> None:
    log = log_of(an_hour())
    held = 15  # the last word before a silence holds for max_age
    assert log.used_s["spray"] == 30 * 60 + held - 10
    assert [(hole.end - hole.start) // SECOND for hole in log.holes] == [600 - held + 10]
    assert sum(piece.end - piece.start for piece in log.pieces) == HOUR


def test_a_day_holds_what_the_report_tells_of_it() -> None:
    """2 of 30 min at 0.30, the rest at 0.50; the 5 s that the last mode holds on are at 0.50."""
    log = log_of(an_hour())
    air = log.told["velocity"]
    assert air["lowest"] == 0.30 and air["mean"] == pytest.approx((120 * 0.30 + 1685 * 0.50) / 1805)
    assert log.below == [(START + 20 * MINUTE, START + 22 * MINUTE)] and air["minimum"] == pytest.approx(0.40)
    assert log.told["filters"]["exhaust"]["mean"] == pytest.approx(120)


def test_air_that_nobody_measured_while_spraying_is_a_hole_of_its_own() -> None:
    readings = an_hour()
    readings._points["south/air-velocity"] = every(10, START, START + 20 * MINUTE, 0.5)
    log = log_of(readings)
    assert [(one.end - one.start) // SECOND for one in log.air_holes] == [40 * 60 - 5]
    assert log.air_holes[0].spraying_s == log.told["velocity"]["unknown_s"] == pytest.approx(1805 - 600 - 5)


def test_a_day_without_a_word_is_one_hole() -> None:
    log = log_of(Made())
    assert [(piece.mode, piece.end - piece.start) for piece in log.pieces] == [(None, HOUR)]
    assert not any(log.used_s.values()) and not log.below


def test_a_probe_at_fault_measured_nothing() -> None:
    stuck = Interval("south/air-velocity", "stuck", START, None, START + MINUTE)
    entry = Entry(1, "", "", "a", "health", START, START, "logger", interval_body(stuck), {})
    log = log_of(an_hour(), ledger=Ledger([entry]))
    assert not log.below and log.told["velocity"]["known_s"] == 0
    assert [(one.start, one.end) for one in log.air_holes] == [(START, START + HOUR)]


def test_a_strip_is_as_long_as_its_day_and_names_its_holes() -> None:
    """25 hours on the day that clocks go back: noon lies at 13/25 of the strip."""
    moments = Moments(ZoneInfo("America/Chicago"), parse_time("2026-11-02T12:00:00Z"))
    day = date(2026, 11, 1)
    start, midnight = moments.midnight(day), moments.midnight(day + timedelta(days=1))
    log = day_log(Room("south", SOUTH, Made(), Ledger()), day, start, midnight)
    drawn = ElementTree.fromstring(strip(log, midnight, moments, "a"))
    spaced = "{http://www.w3.org/2000/svg}"
    texts = {one.text: float(one.get("x")) for one in drawn.iter(f"{spaced}text")}
    assert texts["12:00"] - texts["00:00"] == pytest.approx((texts["24:00"] - texts["00:00"]) * 13 / 25, abs=0.2)
    assert "no data 25 h 00 min" in texts
    assert "no data" in drawn.find(f"{spaced}desc").text


def test_days_are_a_week_or_what_was_asked_for() -> None:
    moments = Moments(ZoneInfo("America/Chicago"), parse_time("2026-07-13T19:00:00Z"))
    assert days_asked({}, moments) == (date(2026, 7, 7), date(2026, 7, 13))
    assert days_asked({"from": "2026-07-01"}, moments) == (date(2026, 7, 1), date(2026, 7, 1))
    for asked in ({"from": "2026-07-13", "to": "2026-07-01"}, {"from": "2026-01-01", "to": "2026-07-01"}, {"from": "x"}):
        with pytest.raises(MomentError):
            days_asked(asked, moments)


def shown(text: str) -> dict[str, str]:
    """The cells of the table's first day by their labels."""
    row = re.search(r"<tbody>(.*?)</tr>", text, re.DOTALL)[1]
    cells = re.findall(r'data-label="(.*?)"[^>]*>(.*?)</t[dh]>', row)
    return {label: re.sub(r"<.*?>", " ", cell).strip() for label, cell in cells}


def test_what_nobody_measured_is_not_known(as_person, store_folder: Path) -> None:
    """Of 2 July there is nothing; on the 3rd the booth said that it sprays, and nobody measured the air."""
    browser = as_person("ehs")
    begin = parse_time("2026-07-03T12:00:00Z")
    with Store.open(store_folder, writer=True) as store:
        moments = range(begin, begin + HOUR, 10 * SECOND)
        store.readings.append([Reading("south/mode", one, one, "spray", "", float(SPRAY), 1) for one in moments])
    nothing, unread = (shown(browser.get(f"/ventilation/south?from={day}&to={day}").text) for day in ("2026-07-02", "2026-07-03"))
    assert [nothing[name] for name in ("Sprayed", "Baked", "In purge")] == ["not known"] * 3
    assert nothing["Below least"] == unread["Below least"] == "not known"
    assert unread["Sprayed"] == "1 h 00 min" and "not known for 1 h 00 min" in unread["Velocity, mean"]


def test_days_that_are_over_are_reckoned_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A minute later only the day that goes on is reckoned anew; once a fault was told, both are."""
    made = []
    monkeypatch.setattr(ventilation_page, "day_log", lambda room, day, *rest: made.append(day) or day_log(room, day, *rest))
    desk, room = Desk(demo_shop()), Room("south", SOUTH, an_hour(), Ledger())
    days, noon = [date(2026, 7, 12), date(2026, 7, 13)], parse_time("2026-07-13T17:00:00Z")

    def look(now: int) -> list[date]:
        made.clear()
        for day in days:
            ventilation_page.log_of_day(desk, room, day, Moments(ZoneInfo("America/Chicago"), now))
        return made

    assert look(noon) == days
    assert look(noon + MINUTE) == days[1:]
    desk.memory.health_at += 1
    assert look(noon + MINUTE) == days


def test_ehs_signs_and_maintenance_cannot(as_person, store_folder: Path) -> None:
    page = "/ventilation/south?from=2026-07-13&to=2026-07-13"
    ehs = as_person("ehs")
    text = ehs.get(page).text
    period = {"from": "2026-07-13T05:00:00.000Z", "to": "2026-07-13T14:00:00.000Z", "csrf": csrf_of(text)}
    said = {"text": "Filters <b>loading</b>.", "from-day": "2026-07-13", "to-day": "2026-07-13"}
    answer = ehs.post("/ventilation/south", data=period | said)
    assert answer.status_code == 303
    shown = ehs.get(answer.headers["location"]).text
    assert "The review is signed." in shown and "Filters &lt;b&gt;loading&lt;/b&gt;." in shown and "Erin Hygiene" in shown
    refused = ehs.post("/ventilation/south", data=period | {"text": " "})
    assert refused.status_code == 422 and "review needs a text" in refused.text
    other = as_person("maintenance")
    assert "Sign for these days" not in other.get(page).text
    assert other.post("/ventilation/south", data=period | said | {"csrf": csrf_of(other.get(page).text)}).status_code == 403
    with Store.open(store_folder) as store:
        assert len(list(store.journal.entries(kinds=["review"]))) == 1


def test_what_is_not_a_booth_or_a_date_is_said(as_person) -> None:
    browser = as_person("ehs")
    assert browser.get("/ventilation/mix-room").status_code == 404
    assert browser.get("/ventilation/nowhere").status_code == 404
    wrong = browser.get("/ventilation/south?from=soon")
    assert wrong.status_code == 422 and "is not a date" in wrong.text
    assert browser.get("/ventilation").headers["location"] == "/ventilation/north"
