"""Finding records: the index against the judge and against the ledger's own tracing, and the page."""

from __future__ import annotations

from pathlib import Path
from uuid import uuid4

import pytest

from booth.judge.health.entries import interval_body
from booth.judge.health.spans import Interval
from booth.judge.ledger import Ledger
from booth.judge.tracing import vehicles_with_lot
from booth.reports.judged import judge_vehicle
from booth.store import Draft, Store
from booth.times import HOUR, MINUTE, format_time, parse_time
from booth.web.desk.memory import Memory
from booth.web.desk.record_index import Query
from tests.app.plants import END, VAN, demo_shop
from tests.web.demo_board import END as DEMO_END
from tests.web.demo_board import demo_store  # noqa: F401

HOSTILE = (
    '<img src=x onerror="document.title=1">',
    *("ﬀ-٤١٠٣ עגלה", "Ünïcøde " * 20, "\u202e4103-VT", "12/4103", "../../etc/passwd", "a b?c#d 7%"),
)


def add(store: Store, kind: str, body: dict, at: int = END, **private: str) -> str:
    identity = str(uuid4())
    store.journal.append([Draft(kind, body, at, at, "cli", identity, private)])
    return identity


def rows(store: Store, query: Query = Query(), memory: Memory | None = None) -> list:  # noqa: B008 -- frozen
    with (memory or Memory(demo_shop())).following(store) as known:
        return known.index.find(query)


@pytest.mark.xdist_group("demo-board")
def test_the_index_says_what_the_judge_says(demo_store: Path) -> None:  # noqa: F811
    """Every van of the demonstration, judged anew from its readings."""
    with Store.open(demo_store) as store:
        found = rows(store)
        assert len(found) == 5
        for row in found:
            assessment = judge_vehicle(demo_shop(), store, row.vehicle, DEMO_END).assessment
            assert row.verdict is assessment.verdict, row.vehicle


@pytest.mark.xdist_group("demo-board")
def test_a_lot_finds_the_vans_that_the_ledger_traces(demo_store: Path) -> None:  # noqa: F811
    with Store.open(demo_store) as store:
        ledger = Ledger(store.journal.entries())
        for lot in ("CC-1876", "HD-0461", "EH-0119"):
            assert {row.vehicle for row in rows(store, Query(lot=lot))} == set(vehicles_with_lot(ledger, lot))


def test_a_memory_that_follows_knows_what_a_new_one_knows(store_folder: Path) -> None:
    """Entries one by one, corrections of vans and mixes among them, against everything read at once."""
    following = Memory(demo_shop())
    with Store.open(store_folder) as store:
        rows(store, memory=following)
        started = store.journal.entries(kinds=["step-start"])
        start = next(one for one in started if one.body["step"] == "clear-1" and one.body.get("mix"))
        mix = next(one for one in store.journal.entries(kinds=["mix"]) if one.body["mix"] == start.body["mix"])
        add(store, "correction", {"corrects": mix.id, "set": {"lots": {"resin": "CORRECTED-1"}}}, by="Sam", reason="typed wrong")
        add(store, "job-open", {"vehicle": "TV-9", "process": "standard"}, by="badge-1")
        add(store, "correction", {"corrects": start.id, "set": {"vehicle": "TV-9"}}, by="Sam", reason="other van")
        add(store, "note", {"vehicle": VAN}, by="badge-99", text="seen")
        assert rows(store, memory=following) == rows(store)
        assert [row.vehicle for row in rows(store, Query(person="badge-99"))] == [VAN]
        assert "TV-9" in {row.vehicle for row in rows(store, Query(lot="corrected-1"), following)}


def test_what_was_issued_is_marked_once_a_fault_of_its_time_is_told(as_person, store_folder: Path) -> None:
    """Readings of 08:00 to 08:10 were issued as met; a fault of then told later puts them in doubt, a known one doesn't."""
    begin, memory = END - HOUR, Memory(demo_shop())
    ground = {"points": ["south/humidity"], "start": format_time(begin), "end": format_time(begin + 10 * MINUTE), "sha256": ""}
    issued = {"vehicle": VAN, "round": 1, "step": "clear-1", "start": ground["start"], "end": ground["end"], "evidence": [ground]}
    issued["findings"] = [{"requirement": "clear-1/relative_humidity", "verdict": "met", "sentence": "in limits"}]

    def fault(name: str, start: int, withdrawn: bool = False) -> dict:
        return interval_body(Interval("south/humidity", name, start, start + 5 * MINUTE, start + MINUTE, withdrawn=withdrawn))

    def doubted() -> bool:
        return next(row for row in rows(store, memory=memory) if row.vehicle == VAN).doubted

    with Store.open(store_folder) as store:
        add(store, "health", fault("jumping", begin))
        add(store, "finding", issued)
        add(store, "health", fault("jumping", begin))
        add(store, "health", fault("stuck", begin + 10 * MINUTE))  # of the time after
        assert not doubted()
        add(store, "health", fault("stuck", begin - MINUTE))
        assert doubted() and "in doubt since" in as_person("ehs").get("/records").text
        add(store, "health", fault("stuck", begin - MINUTE, withdrawn=True))
        assert not doubted()
        add(store, "health", fault("disagrees", begin + MINUTE))
        assert doubted()
        add(store, "finding", issued)
        assert not doubted()
        body = {"booth": "south", "point": "humidity", "result": "failed", "valid_until": format_time(END)}
        add(store, "calibration", body)
        assert doubted()


def test_dates_count_from_midnight_to_midnight_in_the_sites_zone(as_person) -> None:
    browser = as_person("ehs")
    assert VAN in browser.get("/records?from=2026-07-13&to=2026-07-13").text
    for period in ("from=2026-07-14", "to=2026-07-12"):
        assert "No van fits" in browser.get(f"/records?{period}").text
    wrong = browser.get("/records?from=2026-07-14&to=2026-07-13")
    assert wrong.status_code == 422 and "the last day is before the first" in wrong.text


def test_each_field_finds_and_excludes(as_person) -> None:
    browser = as_person("maintenance")
    for found, not_found in (("van=4102", "van=4999"), ("booth=south", "booth=north"), ("person=BADGE-22", "person=badge-77")):
        assert f"/record/{VAN}" in browser.get(f"/records?{found}").text
        assert "No van fits" in browser.get(f"/records?{not_found}").text


def test_years_of_vans_are_paged(as_person, store_folder: Path) -> None:
    with Store.open(store_folder) as store:
        drafts = [
            Draft("job-open", {"vehicle": f"OLD-{number:04}", "process": "standard"}, END - number * 24 * HOUR, END, "cli")
            for number in range(1, 61)
        ]
        store.journal.append(drafts)
    browser = as_person("supervisor")
    first, last = browser.get("/records?van=old-").text, browser.get("/records?van=old-&page=3").text
    assert "60 of 61 vans" in first and "Page 1 of 3" in first
    assert first.count("/record/OLD-") == 25 and last.count("/record/OLD-") == 10
    assert "/record/OLD-0001" in first and "/record/OLD-0060" in last
    assert "?van=old-&amp;page=2" in first
    for page in ("0", "-1", "x", "99999999999", "٣"):
        assert browser.get(f"/records?van=old-&page={page}").status_code == 200


@pytest.mark.parametrize("vehicle", HOSTILE)
def test_a_van_is_found_and_opened_whatever_it_is_called(as_person, store_folder: Path, vehicle: str) -> None:
    """Long, accented, right to left, hostile to HTML, or like a path: found by its number, its link opens its record."""
    import re
    from html import unescape

    with Store.open(store_folder) as store:
        add(store, "job-open", {"vehicle": vehicle, "process": "standard"}, by="<script>alert(1)</script>")
    browser = as_person("supervisor")
    found = browser.get("/records", params={"van": vehicle[:150]}).text
    assert "<img src=x" not in found and "<script>alert" not in found
    link = unescape(re.search(r'href="(/record/[^"]*)"', found)[1])
    record = browser.get(link)
    assert record.status_code == 200, link
    assert "<img src=x" not in record.text and "<script>alert" not in record.text
    assert browser.get(f"{link}/traces.json").status_code == 200


def test_opened_and_closed_are_the_journals(store_folder: Path) -> None:
    with Store.open(store_folder) as store:
        row = rows(store)[0]
        opened = next(store.journal.entries(vehicle=VAN, kinds=["job-open"])).effective
        assert format_time(row.opened) == format_time(opened) and row.closed > parse_time("2026-07-13T13:00:00Z")
