"""Litres, VOC and HAP out of made-up mixes; the sums are worked out by hand from the demo shop's coating files."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_up_week import shop

from booth.reports.materials import build_materials
from booth.reports.materials_csv import materials_csv, months_csv
from booth.store import Draft, Store
from booth.times import parse_time

SHOP = shop()
START, END, NOW = (parse_time(text) for text in ("2026-06-01T05:00:00Z", "2026-08-01T05:00:00Z", "2026-09-01T05:00:00Z"))


def say(store: Store, kind: str, time: str, **body: object) -> str:
    us = parse_time(time)
    return store.journal.append([Draft(kind, body, us, us, "cli")])[0].entry.id


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict]:
    """Thirteen months of one litre of clear coat, then a July with everything."""
    with Store.open(tmp_path_factory.mktemp("materials"), create=True) as store:
        for year, month in [(2025, month) for month in range(6, 13)] + [(2026, month) for month in range(1, 7)]:
            time = f"{year}-{month:02d}-15T12:00:00Z"
            say(store, "mix", time, mix="M-0", coating="two-pack-clear", booth="mix-room", volume="1 L", lots={"resin": "R-1"})
        clear = {"mix": "M-1", "coating": "two-pack-clear", "booth": "mix-room", "lots": {"resin": "R-7", "hardener": "H-2"}}
        say(store, "mix", "2026-07-02T12:00:00Z", **clear, volume="2 L")
        say(store, "step-start", "2026-07-02T12:30:00Z", vehicle="V-1", step="clear-1", booth="north", mix="M-1")
        wrong = say(store, "mix", "2026-07-03T12:00:00Z", mix="M-2", coating="epoxy-sealer", booth="south", volume="30 L")
        say(store, "correction", "2026-07-03T13:00:00Z", corrects=wrong, set={"volume": "3 L"})
        say(store, "mix", "2026-07-04T12:00:00Z", mix="M-3", coating="waterborne-base", booth="north", volume="1 gallon")
        say(store, "mix", "2026-07-05T12:00:00Z", mix="M-4", coating="epoxy-sealer", booth="north")
        say(store, "used", "2026-07-06T12:00:00Z", product="gun wash", use="cleaner", volume="0.5 L", booth="north", lot="W-1")
        say(store, "purchase", "2026-07-07T12:00:00Z", product="clear", component="resin", volume="5 gallon", lot="R-8")
        say(store, "mix", "2026-08-02T12:00:00Z", mix="M-5", coating="two-pack-clear", booth="north", volume="9 L")
        yield build_materials(SHOP, store, START, END, NOW)


def row(made: dict, month: str, product: str, booth: str | None) -> dict:
    (found,) = (one for one in made["products"] if (one["month"], one["product"], one["booth"]) == (month, product, booth))
    return found


def test_a_mix_counts_for_the_booth_that_sprayed_it(made: dict) -> None:
    one = row(made, "2026-07", "two-pack-clear", "north")
    assert (one["litres"], one["entries"], one["lots"]) == (2, 1, ["hardener H-2", "resin R-7"])
    assert one["voc_kg"] == pytest.approx(2 * 0.420) and one["hap_kg"] == pytest.approx(2 * 0.025)
    assert one["solids_l"] == pytest.approx(2 * 0.52) and one["missing"] == []


def test_a_correction_counts(made: dict) -> None:
    assert row(made, "2026-07", "epoxy-sealer", "south")["litres"] == 3


def test_what_the_sheet_leaves_out_is_missing_and_not_zero(made: dict) -> None:
    one = row(made, "2026-07", "waterborne-base", "north")
    assert one["litres"] == pytest.approx(3.785411784) and one["voc_kg"] == pytest.approx(3.785411784 * 0.105)
    assert one["hap_kg"] is None and one["missing"] == ["hap of waterborne-base"]


def test_a_mix_without_a_volume_leaves_every_sum_open_and_says_which(made: dict) -> None:
    one = row(made, "2026-07", "epoxy-sealer", "north")
    assert (one["litres"], one["voc_kg"], one["known"]["litres"], one["missing"]) == (None, None, 0, ["the volume of M-4"])


def test_a_liquid_without_a_file_has_litres_and_no_voc(made: dict) -> None:
    one = row(made, "2026-07", "gun wash", "north")
    assert (one["litres"], one["voc_kg"]) == (0.5, None)


def test_twelve_months_and_where_they_are_not_whole(made: dict) -> None:
    june, july = made["months"]
    assert june["month"] == "2026-06" and june["twelve_months"]["litres"] == 12
    assert june["twelve_months"]["voc_kg"] == pytest.approx(12 * 0.420)
    assert june["twelve_months"]["hap_by_solids"] == pytest.approx(0.025 / 0.52)
    assert july["litres"] is None and july["known"]["litres"] == pytest.approx(2 + 3 + 3.785411784 + 0.5)
    assert july["twelve_months"]["litres"] is None and july["twelve_months"]["missing"] == ["2026-07"]


def test_a_month_of_which_the_journal_says_nothing_is_no_month_without_use(tmp_path: Path) -> None:
    with Store.open(tmp_path, create=True) as store:
        say(store, "mix", "2026-07-02T12:00:00Z", mix="M-1", coating="two-pack-clear", volume="2 L")
        silent, july = build_materials(SHOP, store, START, END, NOW)["months"]
        assert (silent["litres"], silent["missing"]) == (None, ["the journal has no entry of this month"])
        assert july["litres"] == 2 and july["twelve_months"]["litres"] is None and len(july["twelve_months"]["missing"]) == 11


def test_figures_of_the_coatings(made: dict) -> None:
    clear, base = made["coatings"]["two-pack-clear"], made["coatings"]["waterborne-base"]
    assert (clear["voc_less_water"], clear["voc_by_solids"]) == (pytest.approx(0.42), pytest.approx(0.42 / 0.52))
    # 105 g/L in a litre of which 0.72 kg are water: (105)/(1 - 0.72/0.9982).
    assert base["voc_less_water"] == pytest.approx(0.105 / (1 - 0.72 / 0.9982)) and base["missing"] == ["hap not stated"]


def test_purchases_are_told_and_not_counted(made: dict) -> None:
    (bought,) = made["purchases"]
    assert (bought["product"], bought["litres"]) == ("clear", pytest.approx(5 * 3.785411784))


def test_exports(made: dict) -> None:
    rows = list(csv.DictReader(io.StringIO(materials_csv(made))))
    assert [one["hap_kg"] for one in rows if one["product"] == "waterborne-base"] == [""]
    months = list(csv.DictReader(io.StringIO(months_csv(made))))
    assert [one["month"] for one in months] == ["2026-06", "2026-07"]
    assert (months[0]["twelve_months_litres"], months[1]["twelve_months_litres"]) == ("12.0", "")
