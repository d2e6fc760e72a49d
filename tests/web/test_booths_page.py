"""Every booth and open van at the end of the demonstration's shift, against the journal and what `booth status` says."""

from __future__ import annotations

from pathlib import Path

import pytest

from booth.overview import build_status
from booth.shop.shop import Shop
from booth.store import Draft, Store
from booth.times import give_or_take
from booth.web.desk.booths_view import booths_view, windows_told
from booth.web.desk.memory import Memory
from tests.app.plants import demo_shop
from tests.web.demo_board import END, copied, demo_store  # noqa: F401

pytestmark = pytest.mark.xdist_group("demo-board")


def view(store: Store, units: str = "SI", as_of: int = END, shop: Shop | None = None) -> dict:
    shop = shop or demo_shop()
    with Memory(shop).following(store) as known:
        return booths_view(shop, store, known, as_of, units)


def test_it_says_what_status_says(demo_store: Path) -> None:  # noqa: F811
    with Store.open(demo_store) as store:
        shown, status = view(store), build_status(demo_shop(), store, END)
    vans = [van for booth in shown["booths"] for van in booth["vans"]]
    assert [van["vehicle"] for van in vans] == [job["vehicle"] for job in status["open_jobs"]] == ["TV-4105"]
    assert vans[0]["missed"] == status["open_jobs"][0]["missed"] and vans[0]["verdict_so_far"] == "missed"
    assert [booth["id"] for booth in shown["booths"]] == ["north", "south", "mask-room", "mix-room"]


def test_units_are_the_screens(demo_store: Path) -> None:  # noqa: F811
    """°F by its definition; shown to a tenth."""
    with Store.open(demo_store) as store:
        shown = {units: {one["name"]: one["text"] for one in view(store, units)["booths"][1]["values"]} for units in ("SI", "US")}
    celsius = float(shown["SI"]["air temperature"].removesuffix(" °C"))
    fahrenheit = float(shown["US"]["air temperature"].removesuffix(" °F"))
    assert fahrenheit == pytest.approx(celsius * 9 / 5 + 32, abs=0.15)


def test_a_silent_booth_is_not_known(demo_store: Path) -> None:  # noqa: F811
    with Store.open(demo_store) as store:
        south = view(store, as_of=END + 600_000_000)["booths"][1]
    assert south["silent"] and south["mode"] == "not known"
    assert all(one["text"] == "not usable: silent for 10 min" and not one["usable"] for one in south["values"])


def test_who_acknowledged_what(demo_store: Path) -> None:  # noqa: F811
    with Store.open(demo_store) as store:
        recent = {row["alarm"]: row for row in view(store)["recent"]}
        said = {entry.body["alarm"]: entry.private["by"] for entry in store.journal.entries(kinds=["acknowledge"])}
    assert recent and all(said[alarm] == row["acknowledged_by"] for alarm, row in recent.items())


def test_one_van_that_can_not_be_judged_hides_no_other(demo_store: Path, tmp_path: Path) -> None:  # noqa: F811
    """Its process was taken out of the configuration, and the journal never had it."""
    with Store.open(copied(demo_store, tmp_path)) as store:
        store.journal.append([Draft("job-open", {"vehicle": "TV-7", "process": "forgotten"}, END, END, "cli")])
        shown = view(store)
    assert [van["vehicle"] for van in shown["elsewhere"]] == ["TV-7"]
    assert "no configuration has" in shown["elsewhere"][0]["missed"][0]
    assert shown["booths"][1]["vans"][0]["vehicle"] == "TV-4105"


def test_windows_of_one_thing_stand_together() -> None:
    unsure = {"sooner_s": None, "later_s": None}
    told = windows_told(
        [
            {
                "requirement": "base-flash/flash_minimum",
                "earliest": "2026-07-13T19:10:00Z",
                "latest": None,
                "sooner_s": 100.0,
                "later_s": 200.0,
            },
            {"requirement": "base-flash/flash_maximum", "earliest": None, "latest": "2026-07-13T18:59:00Z", **unsure},
            {"requirement": "clear-1/pot_life", "earliest": None, "latest": None, **unsure},
        ],
        END,
    )
    assert [(one["what"], one["late"]) for one in told] == [("next coat", True)]
    assert [(end["word"], end["left"]) for end in told[0]["ends"]] == [
        ("not before", "in 10 min, 2 min sooner to 4 min later"),
        ("not after", "1 min late"),
    ]


@pytest.mark.parametrize(
    ("sooner_s", "later_s", "said"),
    [
        (20, 20, ""),
        (100, 110, "± 2 min"),
        (20, 100, "1 min sooner to 2 min later"),
        (100, None, "2 min sooner, or much later"),
        (20, None, "or much later"),  # that it may never come is never kept back
        (None, None, ""),
    ],
)
def test_how_sure_a_moment_is(sooner_s: float | None, later_s: float | None, said: str) -> None:
    assert give_or_take(sooner_s, later_s) == said


def test_the_page_and_its_live_part_are_one(as_person) -> None:
    browser = as_person("supervisor")
    page, part = browser.get("/booths").text, browser.get("/booths/now").text
    assert "South booth" in part and "<html" not in part and 'data-refresh="/booths/now"' in page
    assert as_person(None).get("/booths/now").status_code == 303  # names of people are for people signed in
