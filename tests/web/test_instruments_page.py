"""Instruments as maintenance sees them, and the form for a calibration."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from booth.judge.ledger import Ledger
from booth.store import Draft, Store
from booth.times import HOUR, format_time
from booth.web.desk.instruments_view import SOON, instrument_rows, machine
from tests.app.plants import END, demo_shop
from tests.web.conftest import csrf_of

DAY = 24 * HOUR


def row(store: Store, name: str = "south/humidity", as_of: int = END) -> dict:
    found = instrument_rows(demo_shop(), store, Ledger(store.journal.entries()), as_of, "SI")
    return next(one for one in found if f"{one['booth']}/{one['point']}" == name)


def calibrated(store: Store, result: str, until: int) -> None:
    body = {"booth": "south", "point": "humidity", "result": result, "valid_until": format_time(until)}
    store.journal.append([Draft("calibration", body, END - 1, END - 1, "cli")])


def test_silence_and_a_missing_calibration_are_said_first(store_folder: Path) -> None:
    with Store.open(store_folder) as store:
        rows = instrument_rows(demo_shop(), store, Ledger(store.journal.entries()), END + DAY, "SI")
    said = [bool(one["says"]) for one in rows]
    assert said == sorted(said, reverse=True)
    south = next(one for one in rows if (one["booth"], one["point"]) == ("south", "humidity"))
    assert any(word.startswith("silent for 24 h") for word in south["says"]) and south["value"] == ""
    assert any("never heard" in one["says"] for one in rows if one["booth"] == "north")


@pytest.mark.parametrize(
    ("result", "until", "state"),
    [
        ("passed", END + SOON + DAY, "fine"),
        ("passed", END + SOON - DAY, "soon"),
        ("passed", END - DAY, "none"),
        ("failed", END + SOON + DAY, "none"),
    ],
)
def test_a_calibration_is_fine_ends_soon_or_is_not_in_force(store_folder: Path, result: str, until: int, state: str) -> None:
    with Store.open(store_folder) as store:
        calibrated(store, result, until)
        assert row(store)["calibration"]["state"] == state
        assert row(store, "south/mode")["calibration"]["state"] == "unneeded"


def test_the_logger_is_running_only_if_its_process_is_there(store_folder: Path) -> None:
    """A logger that was killed leaves its number behind; 2^22 is the kernel's highest on 64 bit (proc(5), pid_max)."""
    lock = store_folder / "logger.lock"
    with Store.open(store_folder) as store:
        for text, running in ((str(os.getpid()), True), (str(2**22 + 1), False), ("", False), ("x", False)):
            lock.write_text(text)
            assert machine(demo_shop(), store, store_folder, None, None, END)["running"] is running


def test_maintenance_enters_a_calibration_and_it_shows(as_person, store_folder: Path) -> None:
    browser = as_person("maintenance")
    form = {"csrf": csrf_of(browser.get("/instruments").text), "point": "south/part-1", "result": "passed"}
    said = {"as_found": "0.4 K <i>low</i>", "as_left": "not adjusted", "until": "2027-10-31"}
    assert browser.post("/instruments", data=form | said).status_code == 303
    shown = browser.get("/instruments?done=1").text
    assert "0.4 K &lt;i&gt;low&lt;/i&gt;" in shown and "The calibration is in the journal." in shown
    with Store.open(store_folder) as store:
        entry = [one for one in store.journal.entries(kinds=["calibration"]) if one.channel == "board"][0]
    assert entry.body["valid_until"] == "2027-10-31T23:59:59.000-05:00"  # the end of that day in Chicago, still in summer time
    assert entry.private["by"] == "Max Maintenance"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"point": "south/nothing", "until": "2027-01-01"}, "is not a point of this booth"),
        ({"point": "south/part-1", "until": "soon"}, "is not a date"),
        ({"point": "south/part-1", "until": "2027-01-01", "result": "maybe"}, "result"),
    ],
)
def test_what_does_not_fit_is_said_and_kept_in_the_form(as_person, fields: dict, sentence: str) -> None:
    browser = as_person("supervisor")
    form = {"csrf": csrf_of(browser.get("/instruments").text), "result": "passed", "as_found": "typed already"}
    answer = browser.post("/instruments", data=form | fields)
    assert answer.status_code == 422 and sentence in answer.text and "typed already" in answer.text


def test_others_look_and_do_not_enter(as_person) -> None:
    for role in ("ehs", "painter"):
        browser = as_person(role)
        assert "A calibration" not in browser.get("/instruments").text
        assert browser.post("/instruments", data={"csrf": csrf_of(browser.get("/instruments").text)}).status_code == 403
