"""The fold from journal entries to a job: who is believed, what corrections do, how rounds are cut."""

from __future__ import annotations

from dataclasses import replace

import pytest

from booth.judge.course import course
from booth.judge.facts import Pass, Round
from booth.judge.ledger import Ledger
from booth.times import format_time
from tests.judge.made_up import Van, at, good_van, shop


def van() -> Van:
    made = Van(shop())
    made.tell("job-open", 0, process="standard")
    return made


def run_of(made: Van, step: str = "clear-1"):
    return made.job().round.run(step)


def minutes(passes: tuple[Pass, ...]) -> list[tuple]:
    return [((one.start - at(0)) / 6e7, None if one.end is None else (one.end - at(0)) / 6e7, one.source) for one in passes]


class TestWhoIsBelieved:
    def test_people(self) -> None:
        made = van()
        made.step("clear-1", 10, 24, mix="M-3")
        made.step("clear-1", 11, 23, channel="inferred")
        run = run_of(made)
        assert minutes(run.passes) == [(10, 24, "entered")]
        assert (run.source, run.mix, run.by, run.booth) == ("entered", "M-3", "badge-17", "north")

    def test_instruments_where_people_said_nothing(self) -> None:
        made = van()
        made.step("clear-1", 11, 23, channel="inferred")
        run = run_of(made)
        assert minutes(run.passes) == [(11, 23, "inferred")]
        assert (run.source, run.by) == ("inferred", None)

    def test_a_forgotten_end_comes_from_the_instruments(self) -> None:
        made = van()
        made.step("clear-1", 10, None)
        made.step("clear-1", 11, 23, channel="inferred")
        assert minutes(run_of(made).passes) == [(10, 23, "inferred")]

    def test_a_forgotten_start_comes_from_the_instruments(self) -> None:
        made = van()
        made.tell("step-end", 24, step="clear-1")
        made.step("clear-1", 11, 23, channel="inferred")
        assert minutes(run_of(made).passes) == [(11, 24, "inferred")]
        still = van()
        still.tell("step-end", 24, step="clear-1")
        still.step("clear-1", 11, None, channel="inferred")
        assert minutes(run_of(still).passes) == [(11, 24, "inferred")]

    def test_an_end_alone_is_no_run(self) -> None:
        made = van()
        made.tell("step-end", 24, step="clear-1")
        assert run_of(made) is None

    def test_a_button_pressed_twice_says_nothing_new(self) -> None:
        made = van()
        for minute in (10, 10.1):
            made.tell("step-start", minute, step="clear-1")
        for minute in (24, 24.1):
            made.tell("step-end", minute, step="clear-1")
        assert minutes(run_of(made).passes) == [(10, 24, "entered")]

    def test_what_only_the_instruments_saw_is_added(self) -> None:
        made = van()
        made.step("clear-1", 10, 24)
        made.step("clear-1", 26, 28, channel="inferred")
        run = run_of(made)
        assert minutes(run.passes) == [(10, 24, "entered"), (26, 28, "inferred")]
        assert (run.source, run.end) == ("inferred", at(28))

    def test_zones_run_side_by_side_and_an_end_without_a_zone_ends_them_all(self) -> None:
        made = van()
        made.tell("step-start", 10, step="clear-1", zone="roof")
        made.tell("step-start", 12, step="clear-1", zone="sides")
        made.tell("step-end", 14, step="clear-1", zone="roof")
        made.tell("step-end", 20, step="clear-1")
        run = run_of(made)
        assert [(one.zone, one.start, one.end) for one in run.passes] == [
            ("roof", at(10), at(14)),
            ("sides", at(12), at(20)),
        ]

    def test_holds(self) -> None:
        made = van()
        made.step("clear-1", 10, 24)
        for kind, minute in (("hold", 12), ("hold", 13), ("resume", 15), ("hold", 20)):
            made.tell(kind, minute, step="clear-1")
        assert run_of(made).holds == ((at(12), at(15)), (at(20), None))


class TestCorrections:
    def test_of_time_step_and_mix(self) -> None:
        made = van()
        start = made.tell("step-start", 10, step="clear-1", mix="M-1")
        end = made.tell("step-end", 24, step="clear-1")
        made.tell("correction", 60, corrects=start, set={"time": format_time(at(8)), "step": "clear-2"}, reason="wrong button")
        made.tell("correction", 61, corrects=end, set={"step": "clear-2"}, reason="wrong button")
        made.tell("correction", 62, corrects=start, set={"mix": "M-3"}, reason="wrong pot")
        assert run_of(made) is None
        run = run_of(made, "clear-2")
        assert (run.start, run.end, run.mix) == (at(8), at(24), "M-3")
        sayings = [(one.text, one.about, one.by) for one in made.job().sayings if one.kind == "correction"]
        assert sayings == [
            ("wrong button", start, "badge-17"),
            ("wrong button", end, "badge-17"),
            ("wrong pot", start, "badge-17"),
        ]

    def test_of_the_vehicle(self) -> None:
        made = van()
        made.tell("job-open", 0, vehicle="TV-2", process="standard")
        for kind, minute in (("step-start", 10), ("step-end", 24)):
            wrong = made.tell(kind, minute, step="clear-1")
            made.tell("correction", 60, corrects=wrong, set={"vehicle": "TV-2"}, reason="other van")
        assert run_of(made) is None
        made.vehicle = "TV-2"
        assert minutes(run_of(made).passes) == [(10, 24, "entered")]

    def test_the_later_of_two_is_right(self) -> None:
        made = van()
        start = made.tell("step-start", 10, step="clear-1")
        made.tell("correction", 70, corrects=start, set={"time": format_time(at(9))}, reason="second thought")
        made.tell("correction", 60, corrects=start, set={"time": format_time(at(5))}, reason="first thought")
        assert run_of(made).start == at(9)

    @pytest.mark.parametrize("which", [0, 1])
    def test_not_a_coat(self, which: int) -> None:
        made = van()
        ids = [made.tell(kind, minute, "inferred", step="clear-1") for kind, minute in (("step-start", 5), ("step-end", 7))]
        made.step("clear-1", 20, 34, channel="inferred")
        made.tell("not-a-coat", 40, corrects=ids[which])
        assert minutes(run_of(made).passes) == [(20, 34, "inferred")]


class TestRounds:
    def test_rework_opens_another_and_overwrites_nothing(self) -> None:
        made = van()
        made.tell("check", -30, check="wash", result="passed")
        made.step("clear-1", 10, 24)
        made.tell("job-close", 100)
        made.tell("reopen", 200, reason="dust")
        made.step("clear-1", 210, 224)
        first, second = made.job().rounds
        assert isinstance(first, Round) and [one.number for one in (first, second)] == [1, 2]
        assert (first.opened, first.closed, first.reason) == (at(0), at(100), None)
        assert (second.opened, second.closed, second.reason) == (at(200), None, "dust")
        assert first.run("clear-1").start == at(10) and second.run("clear-1").start == at(210)
        assert [one.check for one in first.checks] == ["wash"] and second.checks == ()
        assert made.job().closed is None

    def test_a_round_that_nobody_closed_ends_where_the_next_begins(self) -> None:
        made = van()
        made.step("clear-1", 10, None)
        made.tell("reopen", 200, reason="dust")
        assert made.job().rounds[0].closed == at(200)
        assert made.job().rounds[0].run("clear-1").end is None

    def test_nothing_is_lost_that_was_recorded_before_the_job_was_opened(self) -> None:
        made = van()
        made.step("sealer", -20, -6)
        assert run_of(made, "sealer").start == at(-20)

    def test_no_job_without_an_opening(self) -> None:
        made = Van(shop())
        made.step("clear-1", 10, 24)
        assert made.job() is None and Ledger(made.entries).vehicles == []


class TestCourse:
    def lay(self, made: Van) -> dict:
        job = made.job()
        return course(job, job.round, made.shop.processes["standard"])

    def test_a_flash_off_lies_between_two_coats(self) -> None:
        made = van()
        made.step("sealer", 0, 14)
        assert (self.lay(made)["sealer-flash"].start, self.lay(made)["sealer-flash"].end) == (at(14), None)
        made.step("base-1", 39, 53)
        flash = self.lay(made)["sealer-flash"]
        assert (flash.start, flash.end, flash.source, flash.booth) == (at(14), at(39), "derived", "north")

    def test_a_forgotten_end_is_derived_from_the_next_step_and_the_pass_stays_open(self) -> None:
        made = van()
        made.step("sealer", 0, None)
        assert self.lay(made)["sealer"].end is None
        made.step("base-1", 39, 53)
        sealer = self.lay(made)["sealer"]
        assert (sealer.end, sealer.source, sealer.passes[0].end) == (at(39), "derived", None)

    def test_the_booth_is_where_the_van_stood(self) -> None:
        made = van()
        made.tell("load", -10, booth="south", vans=[{"vehicle": "TV-1"}])
        made.tell("load", -5, booth="north", vans=[{"vehicle": "TV-1"}])
        made.tell("step-start", 0, step="sealer", booth=None)
        assert self.lay(made)["sealer"].booth == "north"


class TestBesideTheJob:
    def test_loads_and_places(self) -> None:
        made = van()
        made.tell("load", 0, vans=[{"vehicle": "TV-1", "guns": ["gun-1"], "probes": {"part-1": "lower"}}])
        made.tell("load", 50, vans=[{"vehicle": "TV-1"}, {"vehicle": "TV-2"}])
        made.tell("load", 90, vans=[])
        ledger = Ledger(made.entries)
        assert [(one.start, one.end, one.alone) for one in ledger.job("TV-1").places] == [
            (at(0), at(50), True),
            (at(50), at(90), False),
        ]
        assert ledger.loaded("north") == [] and ledger.job("TV-1").places[0].guns == ("gun-1",)

    def test_a_mix_name_that_comes_again(self) -> None:
        made = van()
        for minute, lot in ((-10_000, "old"), (0, "new"), (9000, "next")):
            made.tell("mix", minute, mix="M-3", coating="two-pack-clear", lots={"resin": lot})
        ledger = Ledger(made.entries)
        assert ledger.mix("M-3", at(10)).lots == {"resin": "new"}
        assert ledger.mix("M-3").lots == {"resin": "next"}
        assert ledger.mix("M-3", at(-20_000)).lots == {"resin": "old"}
        assert ledger.mix("M-4") is None and ledger.mix(None) is None

    def test_the_configuration_in_force_at_the_opening(self) -> None:
        made = van()
        for minute, sha in ((-5, "a"), (5, "b")):
            made.tell("config", minute, sha256=sha)
        assert made.job().config_sha256 == "a"

    def test_an_answer_is_never_older_than_the_journal(self) -> None:
        made = van()
        ledger = Ledger(made.entries)
        assert ledger.job("TV-1").round.runs == ()
        made.step("clear-1", 10, 24)
        for entry in made.entries[1:]:
            ledger.add(entry)
        assert ledger.job("TV-1").round.run("clear-1").end == at(24)

    def test_what_is_told_beside_the_journal_is_not_kept(self) -> None:
        made = van()
        ledger = Ledger(made.entries)
        told = [
            replace(made.entries[0], id="t", kind="step-start", channel="inferred", body={"vehicle": "TV-1", "step": "sealer"})
        ]
        assert ledger.job("TV-1", told).round.run("sealer").source == "inferred"
        assert ledger.job("TV-1").round.run("sealer") is None
        assert ledger.knows("id-1") and not ledger.knows("t")

    def test_vehicles_in_the_order_of_opening(self) -> None:
        made = good_van()
        made.tell("job-open", -300, vehicle="TV-0", process="standard")
        made.tell("note", -400, vehicle="TV-1", text="arrived early")
        assert Ledger(made.entries).vehicles == ["TV-0", "TV-1"]
