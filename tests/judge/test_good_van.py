"""A van whose every step is as it should be, from journal and readings to findings; and the same van with one thing spoilt."""

from __future__ import annotations

import pytest

from booth.judge.finding import Finding, Verdict
from booth.judge.judge import RULES
from booth.judge.rules.climate import judge_climate
from booth.shop.problems import ConfigError
from booth.shop.requirement import KINDS
from booth.times import format_time
from tests.judge.made_up import GOOD_STEPS, Van, at, good_van, shop

SENTENCES = {
    "sealer/gate:water-test": "Water test passed, flow 121.1 L/min (limit at least 113.6 L/min)",
    "sealer/gate:wash": "Wash passed",
    "sealer/mode": "The booth was in mode spray",
    "sealer/air_temperature": "Air temperature stayed at 23.0 °C (limit 18.0 °C to 30.0 °C)",
    "base-1/dew_point_margin": "Dew-point margin (surface by contact, 1.0 K allowed for evaporation) stayed at 10.0 K "
    "(limit at least 3.0 K)",
    "sealer/booth:booth_pressure": "Booth pressure stayed at 3.0 Pa (limit −5.0 Pa to 12.0 Pa)",
    "sealer/pot_life": "Mix M-1 was used up to 34 min after mixing, 33 % of it at the pot's temperature "
    "(limit at most 2 h 00 min to 1 h 00 min by the pot's temperature)",
    "sealer/induction": "Mix M-1 was first used 20 min after mixing (limit at least 15 min)",
    "sealer/lots": "Mix M-1: resin R-M-1, hardener H-M-1",
    "sealer/calibration": "Calibration in force for all 9 instruments that decide",
    "sealer-flash/flash_minimum": "Flashed for 25 min (limit at least 30 min to 12 min by the part's temperature; "
    "no zone events: counted from the coat's end), which is 146 % of what its temperature asks for",
    "sealer-flash/flash_maximum": "Next coat 39 min after the coat began (limit at most 1 h 15 min; "
    "no zone events: counted from the coat's start)",
    "base-flash/appearance": "Uniformly matt passed",
    "purge/purge_volumes": "Flow recorded over 3 min equals 20.8 volumes (limit at least 4.0 volumes)",
    "bake/bake_start": "The bake started 12 min after the last coat (limit 10 min at the earliest and 30 min at the latest)",
    "bake/heat_up": "The coldest part (lower, part-1) reached 60.0 °C after 12 min 20 s "
    "(limit 60.0 °C within 35 min of the start of the bake)",
    "bake/dwell": "The coldest part (lower, part-1) had 174 % of its dwell (limit 30 min at 60 °C, 20 min at 70 °C)",
    "bake/peak:steel": "The hottest part of steel reached 65.0 °C (limit at most 90.0 °C)",
    "bake/heating_rate": "The fastest part (lower, part-1) warmed by 3.0 K/min (limit at most 5.0 K/min over 3 min)",
    "bake/over_bake": "The hottest part (lower) stood 42 min 40 s at or above 60.0 °C (limit at most 2 h 00 min)",
    "cool/cool_minimum": "Cooled for 15 min (limit at least 10 min)",
    "cool/cool_below": "The hottest part (lower, part-1) was at 30.0 °C at the end (limit at most 40.0 °C)",
    "inspect/check:inspect": "Inspect passed",
}


def findings_of(van: Van, minute: float = 1000) -> dict[str, Finding]:
    return {one.requirement: one for one in van.assessment(minute).rounds[-1].findings}


def test_every_kind_of_requirement_has_a_rule() -> None:
    assert set(RULES) == set(KINDS)


def test_everything_is_met_and_final_and_says_what_it_rests_on() -> None:
    van = good_van()
    assessment = van.assessment()
    assert {one.requirement for one in assessment.rounds[0].findings if one.verdict is not Verdict.MET} == set()
    assert all(one.final for one in assessment.rounds[0].findings)
    assert assessment.verdict is Verdict.MET and assessment.rounds[0].outcome == "closed"
    assert "Two-pack clear coat: the sheet doesn't state the induction time before use." in assessment.not_stated
    said = findings_of(van)
    assert {name: said[name].sentence for name in SENTENCES} == SENTENCES
    assert said["bake/bake_start"].source.startswith("Two-pack clear coat, technical data sheet (invented), revision 12")


def test_an_assessment_goes_through_the_steps_in_their_order_and_says_whether_the_round_is_open() -> None:
    van = good_van()
    process = van.shop.processes["standard"]
    closed = van.assessment(1000).rounds[0]
    assert [one.step.step for one in closed.steps] == [step.step for step in process.steps]
    assert {one.step.step: one.run.start for one in closed.steps if one.run is not None and one.step.kind == "coat"} == {
        step: at(start) for step, (start, _, mix) in GOOD_STEPS.items() if mix
    }
    assert closed.outcome == "closed"
    van.forget("job-close")
    assert van.assessment(204).rounds[0].outcome == "open"


def test_a_closed_round_is_judged_the_same_two_years_on() -> None:
    van = good_van()
    assert van.assessment(206) == van.assessment(206 + 2 * 365 * 24 * 60)


def test_nothing_is_missed_at_any_time_and_no_open_climate_is_met() -> None:
    van = good_van()
    recorded = van.entries
    for minute in range(-11, 206, 3):
        van.entries = [one for one in recorded if one.effective <= at(minute)]
        for one in van.assessment(minute).rounds[0].findings:
            assert one.verdict is not Verdict.MISSED, f"{minute}: {one}"
            if RULES[one.kind] is judge_climate and not one.final:
                assert one.verdict is Verdict.UNPROVEN, f"{minute}: {one}"


@pytest.mark.parametrize(
    ("start", "why"),
    [
        (20, "the purge ended before the last coat did"),
        (176, "the purge had not ended when the bake started"),
    ],
)
def test_only_a_purge_between_the_last_coat_and_the_bake_counts(start: float, why: str) -> None:
    van = good_van()
    van.drop_step("purge")
    van.step("purge", start, start + 3)
    found = van.finding("purge/purge_volumes")
    assert (found.verdict, found.sentence) == ("unproven", f"The fresh air before the bake is unproven: {why}")


@pytest.mark.parametrize(
    ("kind", "sentence"),
    [
        (
            "heat_up",
            "The coldest part (lower) reached 60.0 °C after 12 min 20 s, but no part probe sat on steel "
            "(limit 60.0 °C within 35 min of the start of the bake)",
        ),
        (
            "dwell",
            "The coldest part (lower) had 174 % of its dwell (limit 30 min at 60 °C, 20 min at 70 °C), "
            "but no part probe sat on steel",
        ),
        (
            "heating_rate",
            "The fastest part (lower) warmed by 3.0 K/min, but no part probe sat on steel (limit at most 5.0 K/min over 3 min)",
        ),
        (
            "over_bake",
            "The hottest part (lower) stood 42 min 40 s at or above 60.0 °C, but no part probe sat on steel "
            "(limit at most 2 h 00 min)",
        ),
    ],
)
@pytest.mark.parametrize("probes", [{"part-1": "lower"}, {"part-1": "lower", "part-2": "sill"}])
def test_a_substrate_without_a_probe_leaves_the_bake_unproven(kind: str, sentence: str, probes: dict[str, str]) -> None:
    """The sills are steel; a probe that is assigned to a zone that the process doesn't have sits on none of its surfaces."""
    van = good_van()
    van.forget("load")
    van.tell("load", -12, vans=[{"vehicle": "TV-1", "bay": "1", "guns": ["gun-1"], "probes": probes}])
    found = van.finding(f"bake/{kind}")
    assert (found.verdict, found.final, found.sentence) == ("unproven", True, sentence)


def test_a_calibration_must_be_in_force_throughout_and_a_renewal_without_a_break_is() -> None:
    for ran_out, sentence in (
        (-100, "Calibration: north/humidity had none in force when the step began"),
        (13, "Calibration in force for all 9 instruments that decide"),
    ):
        van = good_van()
        van.forget("calibration", point="humidity")
        van.tell("calibration", -9000, point="humidity", result="passed", valid_until=format_time(at(ran_out)))
        van.tell("calibration", 13, point="humidity", result="passed", valid_until=format_time(at(9000)))
        assert van.finding("sealer/calibration").sentence == sentence


def test_the_pot_that_decides_must_be_in_calibration() -> None:
    van = good_van()
    van.forget("calibration", point="pot-1")
    assert van.finding("sealer/calibration").sentence == "Calibration: mix-room/pot-1 has none"
    assert van.finding("base-1/calibration").verdict is Verdict.MET  # its pot life is a fixed time


def test_the_surface_thermometer_must_be_in_calibration_where_no_part_probe_is() -> None:
    point = """[points.surface]
measure = "surface_temperature"
unit = "degC"
range = ["-20 degC", "120 degC"]
max_age = "15 s"
instrument = { name = "IR-N", type = "infrared", method = "infrared", emissivity = 0.95 }

[points.mode]"""
    van = good_van(shop(("booths/north.toml", "[points.mode]", point)))
    van.forget("calibration", point="surface")
    assert van.finding("base-1/calibration").verdict is Verdict.MET
    van.forget("load")
    van.tell("load", -12, vans=[{"vehicle": "TV-1"}])
    assert van.finding("base-1/calibration").sentence == "Calibration: north/surface has none"


def test_evidence_names_its_points_and_its_stretch() -> None:
    van = good_van()
    gatherer = van.gatherer(1000)
    cases = {case.step.step: case for case in van.cases()}
    one = van.requirement("sealer/pot_life")
    assert gatherer.points(one, cases["sealer"]) == ["mix-room/pot-1"]
    assert gatherer.stretch(one, cases["sealer"]) == (at(-20), at(14))
    one = van.requirement("base-1/dew_point_margin")
    assert gatherer.points(one, cases["base-1"]) == [
        f"north/{name}" for name in ("air-temperature", "humidity", "part-1", "part-2", "part-3")
    ]
    one = van.requirement("sealer-flash/flash_minimum")
    assert gatherer.stretch(one, cases["sealer-flash"]) == (at(0), at(39))


@pytest.mark.parametrize(
    ("spoil", "requirement", "verdict", "sentence"),
    [
        (
            lambda van: van.silent("humidity", 75, 81),
            "clear-1/relative_humidity",
            "unproven",
            "Humidity is unproven: no usable reading for 5 min 50 s; what was measured lay at 50 % (limit at most 75 %)",
        ),
        (
            lambda van: van.reads("part-2", 13.5, 45, 50),
            "base-1/dew_point_margin",
            "missed",
            "Dew-point margin (surface by contact, 1.0 K allowed for evaporation) was out of its limit (at least 3.0 K) "
            "for 5 min, from 6 min after the start; worst 0.5 K",
        ),
        (
            lambda van: van.reads("air-temperature", 61, 69, 70),
            "clear-1/relative_humidity",
            "unproven",
            "Humidity is unproven: no usable reading for 14 min",
        ),
        (
            lambda van: van.forget("load"),
            "bake/dwell",
            "unproven",
            "Dwell is unproven: no part probe was assigned to this van, and no qualified bake stands in for one",
        ),
        (
            lambda van: van.forget("load"),
            "clear-1/dew_point_margin",
            "unproven",
            "Dew-point margin is unproven: the surface was not measured, "
            "and the coating doesn't allow the air to stand in for it",
        ),
        (
            lambda van: van.forget("calibration", point="humidity"),
            "clear-1/calibration",
            "unproven",
            "Calibration: north/humidity has none",
        ),
        (lambda van: van.forget("mix", mix="M-2"), "base-1/lots", "unproven", "Lots are unproven: mix M-2 is not in the journal"),
        (lambda van: van.drop_step("purge"), "purge/done", "unproven", "Step purge: no record of it"),
        (lambda van: van.silent("mix-room/pot-1", -21, 210), "clear-2/pot_life", "unproven", None),
        (lambda van: van.says("idle", 75, 78), "clear-1/mode", "missed", "The booth was in mode idle instead of spray for 3 min"),
    ],
)
def test_one_thing_spoilt(spoil, requirement: str, verdict: str, sentence: str | None) -> None:
    van = good_van()
    spoil(van)
    found = findings_of(van)[requirement]
    assert found.verdict == verdict, found.sentence
    assert sentence is None or found.sentence == sentence


def test_an_instrument_whose_uncertainty_nobody_states_proves_nothing_under_a_guarded_rule() -> None:
    guarded = ("site.toml", 'decision_rule = "simple"', 'decision_rule = "guarded"')
    silent = ("booths/north.toml", ', expanded_uncertainty = "0.03 m/s"', "")
    assert good_van(shop(guarded)).finding("sealer/booth:air_velocity").verdict is Verdict.MET
    with pytest.raises(ConfigError, match="a guarded decision rule judges by it"):  # so it doesn't even come to the judge
        shop(guarded, silent)
    assert good_van(shop(silent)).finding("sealer/booth:air_velocity").verdict is Verdict.MET


def test_a_remedied_miss_stays_missed_and_the_round_says_so() -> None:
    van = good_van()
    van.forget("job-close")
    van.delay("base-1", 41)  # base-1 begins 80 min after the sealer did
    van.tell("check", 78, check="scuff", result="passed")
    round_ = van.assessment().rounds[0]
    missed = {one.requirement for one in round_.findings if one.verdict is Verdict.MISSED}
    assert missed == {"sealer-flash/flash_maximum"}
    assert round_.remedied == {"sealer-flash/flash_maximum": "scuff"} and round_.outcome == "remedied"


def test_rework_opens_a_round_and_over_bake_adds_up() -> None:
    van = good_van()
    van.tell("reopen", 300, reason="dust in the clear")
    van.step("bake", 400, 500)
    van.reads("part-1", 65, 390, 510)
    van.reads("part-2", 23, 390, 510)
    van.reads("part-3", 23, 390, 510)
    first, second = van.assessment().rounds
    assert first.verdict is Verdict.MET and second.verdict is Verdict.MISSED
    assert van.finding("bake/over_bake").sentence == (
        "The hottest part (lower) stood 2 h 22 min at or above 60.0 °C over 2 bakes (limit at most 2 h 00 min)"
    )


@pytest.mark.parametrize(("who", "outcome"), [("badge-3", "released"), ("badge-17", "closed"), ("badge-18", "closed")])
def test_whoever_sprayed_the_van_cannot_release_it(who: str, outcome: str) -> None:
    """It takes somebody else than whoever did the work; a handover makes it theirs too."""
    van = good_van()
    van.tell("step-start", 1, step="sealer", by="badge-17")
    van.tell("handover", 2, step="sealer", by="badge-18")
    van.tell("release", 301, by=who)
    assert van.assessment().rounds[0].outcome == outcome
