"""What holds for every finding of every rule, whatever was seen: a finding's numbers agree with each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from booth.judge.finding import Finding, Verdict
from booth.shop.process import Process
from tests.judge.made_up import Van, at, good_van, shop

ZONED = {"heat_up", "dwell", "heating_rate", "over_bake", "cool_below"}
SPOILT = {
    "good": lambda van: None,
    "cold parts": lambda van: van.reads("part-2", 13.5, 45, 50),
    "damp": lambda van: van.reads("humidity", 80, 75, 84),
    "silent": lambda van: van.silent("humidity", 75, 81),
    "no probes": lambda van: van.forget("load"),
    "late bake": lambda van: van.delay("bake", 90),
    "hot cool-down": lambda van: van.reads("part-1", 70, 134, 210),
    "idle": lambda van: van.says("idle", 75, 78),
    "short flash": lambda van: van.delay("sealer", 20),
}


@pytest.fixture(scope="module", params=SPOILT)
def findings(request: pytest.FixtureRequest) -> list[Finding]:
    """Of one van, seen in the middle of each step and long after."""
    van = good_van()
    SPOILT[request.param](van)
    return list(seen(van))


def seen(van: Van) -> Iterator[Finding]:
    recorded = van.entries
    for minute in (7, 25, 45, 60, 77, 101, 113, 150, 180, 1000):
        van.entries = [one for one in recorded if one.effective <= at(minute)]
        yield from (one for round_ in van.assessment(minute).rounds for one in round_.findings)


def test_the_margin_is_how_far_inside_its_limits_a_value_lies(findings: list[Finding]) -> None:
    told = [one for one in findings if one.observed is not None and (one.low is not None or one.high is not None)]
    assert len(told) > 20
    for one in told:
        inside = [one.observed - one.low] if one.low is not None else []
        inside += [one.high - one.observed] if one.high is not None else []
        assert one.margin == pytest.approx(min(inside)), one


def test_a_verdict_and_its_margin_are_on_the_same_side(findings: list[Finding]) -> None:
    """But for climate, where an excursion may be as short as the grace allows, and what is still open."""
    for one in findings:
        if one.margin is not None and not one.excursions and one.final:
            assert one.verdict is not Verdict.MET or one.margin >= 0, one
            assert one.verdict is not Verdict.MISSED or one.margin <= 0, one


def test_a_finding_is_of_its_kind(findings: list[Finding]) -> None:
    zones = set(shop().processes["standard"].zones)
    for one in findings:
        assert isinstance(one.verdict, Verdict) and isinstance(one.final, bool) and one.sentence and one.source, one
        assert one.start is None or one.start <= one.end, one
        assert isinstance(one.excursions, tuple) and all(piece.start < piece.end for piece in one.excursions), one
        assert one.uncertainty is None or one.uncertainty > 0, one
        assert one.coverage is None or 0 <= one.coverage <= 1, one
        assert one.zone is None or one.zone in zones | {"air"}, one
        assert one.probability is None or (0 <= one.probability <= 1 and one.final), one


def test_what_is_observed_on_parts_says_where(findings: list[Finding]) -> None:
    on_parts = [one for one in findings if one.kind in ZONED and one.observed is not None]
    assert {one.kind for one in on_parts if one.zone is None} == set()


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT)
def test_long_after_everything_is_final(spoil: Callable[[Van], None]) -> None:
    van = good_van()
    spoil(van)
    assert [one.requirement for one in van.assessment(1000).rounds[0].findings if not one.final] == []


def test_the_process_names_every_step_of_a_finding(findings: list[Finding]) -> None:
    process: Process = shop().processes["standard"]
    assert {one.step for one in findings} <= {step.step for step in process.steps}
