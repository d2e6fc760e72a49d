"""Make-up air against exhaust in the ventilation log. By hand from made_up_week.py: the exhaust is 19 m³/s while spraying."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from made_up_week import at, fill, shop, shop_with_both_flows

from booth.reports.ventilation import build_ventilation
from booth.reports.ventilation_document import ventilation_document
from booth.store import Reading, Store
from booth.times import SECOND

NOW = at(10, 0, 0)


def supply(store: Store, first: int, past: int, value: float) -> None:
    times = range(first, past, 10 * SECOND)
    store.readings.append([Reading("north/make-up-flow", us, us, f"{value}", "m^3/s", value, 1) for us in times])


def logged(folder: Path, supplied: float, own=None) -> tuple[dict, str, dict[str, str]]:
    """Monday: supplied for the first five of the ten minutes of spraying."""
    own = own or shop_with_both_flows()
    with Store.open(folder, writer=True, create=True) as store:
        fill(store)
        supply(store, at(0, 8, 0), at(0, 8, 15), supplied)
        log = build_ventilation(own, store, "north", at(0, 0, 0), at(1, 0, 0), NOW)
        page = ventilation_document(own, store, log, "html").decode()
        table = ventilation_document(own, store, log, "csv").decode()
    return log, page, next(csv.DictReader(io.StringIO(table)))


def test_intake_less_exhaust_over_the_time_in_which_both_were_read(tmp_path: Path) -> None:
    log, page, row = logged(tmp_path, 16.0)
    told = log["periods"][0]["balance"]
    assert (told["intake"], told["exhaust"], told["difference"]) == pytest.approx((16, 19, -3))
    assert told["difference_uncertainty"] == pytest.approx(2**0.5), "two instruments of ± 1 m³/s each"
    assert told["share"] == pytest.approx(-3 / 19)
    assert (told["known_s"], told["unknown_s"]) == (305, 295)  # the last reading holds for fifteen seconds
    assert log["balance"] == {"intake": "north/make-up-flow", "exhaust": "north/exhaust-flow", "why": None}
    assert "While spraying, 16.00 m³/s came in and 19.00 m³/s went out, by volume −3.00 ± 1.41 m³/s." in log["summary"]
    assert "−3.00 ± 1.41 m³/s" in page and "−15.8 %" in page
    assert float(row["balance_difference_m3_s"]) == pytest.approx(-3)


def test_a_difference_within_the_uncertainty_is_no_difference(tmp_path: Path) -> None:
    log, _, _ = logged(tmp_path, 18.0)
    assert any("which the instruments cannot tell from a balance" in one for one in log["summary"])


def test_with_one_flow_it_says_that_no_balance_can_be_made(tmp_path: Path) -> None:
    log, page, row = logged(tmp_path, 16.0, shop())
    why = "one air flow is measured (north/exhaust-flow), and a balance needs intake and exhaust"
    assert log["balance"]["why"] == why and log["periods"][0]["balance"] is None
    assert f"No make-up balance can be made: {why}." in log["summary"] and "No balance can be made" in page
    assert row["balance_difference_m3_s"] == ""


def test_flows_that_were_never_read_together_make_none(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True, create=True) as store:
        supply(store, at(0, 8, 0), at(0, 9, 0), 16.0)
        log = build_ventilation(shop_with_both_flows(), store, "north", at(0, 0, 0), at(1, 0, 0), NOW)
    assert log["periods"][0]["balance"]["difference"] is None
    assert any("never both read" in one for one in log["summary"])


def test_the_exhaust_stays_the_flow_that_purges_are_judged_by(tmp_path: Path) -> None:
    log, _, _ = logged(tmp_path, 16.0)
    assert log["periods"][0]["flow"]["point"] == "north/exhaust-flow"
