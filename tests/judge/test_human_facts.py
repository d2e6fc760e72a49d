"""What people say about a van, and what it can and can't change: corrections, remedies, concessions, second mixes."""

from __future__ import annotations

import pytest

from booth.judge.finding import Verdict
from booth.judge.ledger import Ledger
from booth.judge.tracing import vehicles_with_lot
from booth.shop.events import EventError, read_event
from tests.judge.made_up import good_van

LATE = 41  # minutes: base-1 then begins 80 min after the sealer did, past its maximum of 75


@pytest.mark.parametrize("name", ["time", "vehicle", "step", "result", "values", "lots", "vans", "value"])
def test_a_correction_takes_nothing_away_that_an_event_cannot_do_without(name: str) -> None:
    correction = {"event": "correction", "corrects": "6f1c2a8e-3b0d-4c57-9a44-0d5b7e2f9c11", "set": {name: None}, "reason": "r"}
    with pytest.raises(EventError, match="can be corrected but not taken away"):
        read_event(correction, "north", 0)


def test_one_that_stands_in_an_old_journal_all_the_same_stops_nobody() -> None:
    van = good_van()
    check = van.tell("check", 5, check="wash", result="passed")
    van.tell("correction", 6, corrects=check, set={"time": None, "result": None, "vehicle": None}, reason="a slip")
    assert van.assessment().verdict is Verdict.MET


def test_only_what_instruments_told_can_turn_out_not_to_be_a_coat() -> None:
    van = good_van()
    failed = van.tell("check", -2, check="water-test", result="failed")
    van.tell("not-a-coat", -1, corrects=failed)
    assert van.finding("sealer/gate:water-test").verdict is Verdict.MISSED


@pytest.mark.parametrize(
    ("minute", "outcome"),
    [(40, "closed"), (79, "remedied"), (90, "closed")],  # before the miss; before the next coat; under it
)
def test_a_remedy_comes_after_the_miss_and_before_the_next_coat(minute: int, outcome: str) -> None:
    van = good_van()
    van.delay("base-1", LATE)
    van.tell("check", minute, check="scuff", result="passed")
    round_ = van.assessment().rounds[0]
    assert [one.requirement for one in round_.findings if one.verdict is Verdict.MISSED] == ["sealer-flash/flash_maximum"]
    assert round_.outcome == outcome


def test_a_release_needs_a_concession_for_each_miss() -> None:
    van = good_van()
    van.delay("base-1", LATE)
    van.tell("release", 400, by="badge-3")
    assert van.assessment().rounds[0].outcome == "closed"
    van.tell("concession", 401, requirement="bake/bake_start", by="badge-3")  # it was met: nothing to concede
    assert van.assessment().rounds[0].outcome == "closed"
    van.tell("concession", 402, requirement="sealer-flash/flash_maximum", by="badge-3")
    assert van.assessment().rounds[0].outcome == "released with concession"


def test_a_second_mix_is_judged_and_traced() -> None:
    van = good_van()
    van.tell("mix", 1, mix="M-9", coating="waterborne-base", lots={"resin": "R-9"})
    van.tell("step-start", 31, step="sealer", zone="lower", mix="M-9")
    found = next(one for one in van.assessment().rounds[0].findings if one.requirement == "sealer/lots")
    assert found.verdict is Verdict.MISSED and "M-9 is waterborne-base" in found.sentence
    assert vehicles_with_lot(Ledger(van.entries), "R-9") == {van.vehicle: ["sealer: resin R-9"]}


def test_a_corrected_lot_stands_in_the_vans_corrections() -> None:
    van = good_van()
    mix = next(one.id for one in van.entries if one.kind == "mix")
    van.tell("correction", 50, corrects=mix, set={"lots": {"resin": "R-10"}}, reason="misread")
    said = [one for one in van.job().sayings if one.kind == "correction"]
    assert [(one.about, one.set, one.text) for one in said] == [(mix, {"lots": {"resin": "R-10"}}, "misread")]


def test_an_open_job_is_not_met_whatever_was_met_so_far() -> None:
    van = good_van()
    van.forget("job-close")
    van.forget("step-start", step="cool")
    van.forget("step-end", step="cool")
    found = van.finding("cool/done")
    assert (found.verdict, found.final, found.sentence) == (Verdict.UNPROVEN, False, "Step cool: not begun yet")
