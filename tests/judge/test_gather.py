"""What the judge is shown of a good van: which points, how well they are known, over which stretch, beside which facts."""

from __future__ import annotations

import numpy as np
import pytest

from booth.judge.evidence import Evidence
from booth.judge.health import faults
from booth.judge.health.entries import interval_body
from booth.judge.health.spans import Interval
from booth.times import SECOND, format_time
from tests.judge.made_up import Van, at, good_van


def shown(van: Van, requirement: str, minute: float = 1000) -> Evidence:
    wanted = van.requirement(requirement)
    return van.gatherer(minute).evidence(wanted, case(van, wanted.step))


def case(van: Van, step: str):
    return next(one for one in van.cases() if one.step.step == step)


def faulty(van: Van, point: str, start: float, end: float | None, fault: str = faults.STUCK) -> None:
    body = interval_body(Interval(point, fault, at(start), None if end is None else at(end), at(start)))
    van.tell("health", start, "logger", **{key: value for key, value in body.items() if value is not None} | {"end": body["end"]})


class TestPoints:
    @pytest.mark.parametrize(
        ("requirement", "measures", "uncertainty"),
        [
            ("clear-1/relative_humidity", {"relative_humidity"}, {"relative_humidity": 2.0}),
            ("clear-1/booth:air_velocity", {"air_velocity", "mode"}, {"air_velocity": 0.03, "mode": 0.0}),
            ("purge/purge_volumes", {"air_flow"}, {"air_flow": 1.0}),
            ("clear-1/mode", {"mode"}, {"mode": 0.0}),
            ("clear-1/lots", set(), {}),
        ],
    )
    def test_of_the_booth(self, requirement: str, measures: set, uncertainty: dict) -> None:
        """With the uncertainties that config/booths/north.toml states."""
        evidence = shown(good_van(), requirement)
        assert set(evidence.series) == measures and evidence.parts == ()
        assert evidence.uncertainty == pytest.approx(uncertainty)

    def test_on_the_van(self) -> None:
        evidence = shown(good_van(), "bake/dwell")
        assert [(part.point, part.zone, part.substrate) for part in evidence.parts] == [
            ("part-1", "lower", "fibreglass"),
            ("part-2", "sills", "steel"),
            ("part-3", "lower", "fibreglass"),
        ]
        assert evidence.series == {} and set(evidence.uncertainty) == {"part_temperature"}
        times = evidence.parts[0].series.times  # with the last reading before the bake
        assert (times[0], times[-1]) == (at(120) - 5 * SECOND, at(175) - 5 * SECOND)

    def test_in_the_mix_room(self) -> None:
        evidence = shown(good_van(), "sealer/pot_life")
        assert set(evidence.series) == {"pot_temperature"} and "pot_temperature" in evidence.uncertainty
        assert evidence.series["pot_temperature"].times[0] <= at(-20)
        assert (evidence.mix.mix, evidence.mix_named) == ("M-1", "M-1")
        assert shown(good_van(), "base-1/pot_life").series == {}  # a fixed time

    def test_a_mix_with_who_made_it_where_and_of_what(self) -> None:
        mix = shown(good_van(), "sealer/lots").mix
        assert (mix.mix, mix.coating, mix.time, mix.by) == ("M-1", "epoxy-sealer", at(-20), "badge-17")
        assert (mix.booth, mix.pot) == ("mix-room", "pot-1") and all(lot.endswith("-M-1") for lot in mix.lots.values())

    def test_of_two_mixes_of_one_name_the_one_that_was_there(self) -> None:
        """Names come again after a while: the coat that began at minute 0 can't have used what was mixed ten minutes later."""
        van = good_van()
        (first,) = [one for one in van.entries if one.kind == "mix" and one.body["mix"] == "M-1"]
        van.tell("mix", 10, **dict(first.body))
        assert shown(van, "sealer/pot_life").mix.time == at(-20)

    def test_a_step_that_has_not_begun_has_no_readings(self) -> None:
        van = good_van()
        van.drop_step("bake")
        evidence = shown(van, "bake/dwell")
        assert (evidence.start, evidence.end, evidence.parts, evidence.span_source) == (None, None, (), "entered")


class TestAround:
    def test_a_flash_off_lies_between_two_coats(self) -> None:
        evidence = shown(good_van(), "sealer-flash/flash_minimum")
        assert [(one.start, one.end) for one in evidence.before] == [(at(0), at(14))]
        assert [(one.start, one.end) for one in evidence.after] == [(at(39), at(53))]
        assert evidence.following == at(39)

    def test_a_purge_between_the_last_coat_and_the_bake(self) -> None:
        evidence = shown(good_van(), "purge/purge_volumes")
        assert [one.start for one in evidence.before] == [at(94)] and evidence.following == at(120)
        assert evidence.volume_m3 == 190

    def test_a_coat_is_followed_by_nothing(self) -> None:
        evidence = shown(good_van(), "clear-1/relative_humidity")
        assert (evidence.before, evidence.after, evidence.following) == ((), (), None)
        assert (evidence.start, evidence.end, evidence.span_source) == (at(70), at(84), "entered")

    def test_a_round_is_closed_from_its_close_on(self) -> None:
        assert shown(good_van(), "clear-1/mode", 204).closed is None
        assert shown(good_van(), "clear-1/mode", 205).closed == at(205)

    def test_how_well_a_moment_is_known(self) -> None:
        """A button within 15 s (config/site.toml); an instrument by the age that its readings may have, 15 s as well."""
        moments = shown(good_van(), "clear-1/mode").moments
        assert moments == {source: 15 * SECOND for source in ("entered", "signalled", "inferred", "derived")}

    def test_an_earlier_bake_is_shown_to_the_next_ones_sum(self) -> None:
        van = good_van()
        van.tell("reopen", 300, reason="run")
        van.step("bake", 320, 350)
        evidence = shown(van, "bake/over_bake")
        assert [(one.start, one.end, len(one.parts)) for one in evidence.earlier] == [(at(120), at(175), 3)]
        assert shown(van, "bake/dwell").earlier == ()


class TestFaults:
    def test_what_a_faulty_probe_said_is_not_shown(self) -> None:
        van = good_van()
        faulty(van, "north/humidity", 75, 78)
        kept = shown(van, "clear-1/relative_humidity").series["relative_humidity"].times
        assert not ((kept >= at(75)) & (kept < at(78))).any() and {at(74), at(78)} <= set(kept.tolist())
        assert van.finding("clear-1/relative_humidity").verdict == "unproven"

    def test_the_faults_that_touch_a_stretch_are_named(self) -> None:
        van = good_van()
        for start, end in ((60, 70), (75, 78), (83, None)):
            faulty(van, "north/humidity", start, end)
        faulty(van, "north/air-velocity", 75, 78)
        wanted = van.requirement("clear-1/relative_humidity")
        named = van.gatherer(1000).unhealthy(wanted, case(van, "clear-1"))
        assert [(one.point, one.start, one.end) for one in named] == [
            ("north/humidity", at(75), at(78)),
            ("north/humidity", at(83), None),
        ]

    @pytest.mark.parametrize(("point", "named"), [("humidity", ["out_of_calibration"]), ("mode", [])])
    def test_only_what_is_calibrated_can_be_out_of_calibration(self, point: str, named: list) -> None:
        van = good_van()
        van.forget("calibration", point=point)
        van.tell("calibration", -9000, point=point, result="passed", valid_until=format_time(at(-100)))
        wanted = van.requirement({"humidity": "clear-1/relative_humidity", "mode": "clear-1/mode"}[point])
        assert [one.fault for one in van.gatherer(1000).unhealthy(wanted, case(van, "clear-1"))] == named

    def test_a_step_that_has_not_begun_rests_on_no_instrument(self) -> None:
        van = good_van()
        faulty(van, "north/humidity", 60, None)
        van.drop_step("clear-1")
        assert van.gatherer(1000).unhealthy(van.requirement("clear-1/relative_humidity"), case(van, "clear-1")) == []

    def test_humidity_is_not_usable_in_air_too_hot_for_the_probe_nor_until_it_has_recovered(self) -> None:
        """60 °C and 15 min by config/booths/north.toml."""
        van = good_van()
        van.reads("air-temperature", 61, 56, 58)
        kept = shown(van, "clear-1/relative_humidity").series["relative_humidity"].times
        assert kept.min() == at(58 + 15)
        np.testing.assert_array_equal(kept, kept[kept >= at(73)])


class TestCalibrations:
    def test_of_what_decides_and_nothing_else(self) -> None:
        """The climate, the probes on the van, and the pot where a time goes by its temperature; not the guns or the filters."""
        named = set(shown(good_van(), "sealer/calibration").calibrations)
        climate = {f"north/{name}" for name in ("air-temperature", "humidity", "air-velocity", "booth-pressure", "exhaust-flow")}
        assert named == climate | {f"north/part-{number}" for number in (1, 2, 3)} | {"mix-room/pot-1"}
        assert set(shown(good_van(), "base-1/calibration").calibrations) == named - {"mix-room/pot-1"}

    def test_as_they_stood_at_the_end_of_the_step(self) -> None:
        van = good_van()
        van.tell("calibration", 83, point="humidity", result="failed", valid_until=format_time(at(9000)))
        assert shown(van, "clear-1/calibration").calibrations["north/humidity"].result == "failed"
        assert shown(van, "base-1/calibration").calibrations["north/humidity"].result == "passed"

    def test_a_renewal_after_a_failure_is_not_dated_back(self) -> None:
        van = good_van()
        van.tell("calibration", 40, point="humidity", result="failed", valid_until=format_time(at(9000)))
        van.tell("calibration", 72, point="humidity", result="passed", valid_until=format_time(at(9000)))
        assert shown(van, "clear-1/calibration").calibrations["north/humidity"].time == at(72)
        assert shown(van, "clear-1/calibration").calibrations["north/air-velocity"].time == at(-9000)
