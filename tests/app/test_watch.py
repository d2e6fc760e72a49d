"""The live state: findings issued once, late and future entries, old configurations, rules that fail."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from plants import demo_shop
from stage import BAKE_START, LATEST, Stage, at, one_coat, open_job

from booth import telling
from booth.grounds import hashes_in
from booth.judge import assess
from booth.judge.judge import judge
from booth.shop.shop import load_shop
from booth.store import Draft, Store, StoreError
from booth.times import format_time


def test_findings_are_issued_once_also_where_the_round_closes_without_an_end(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="sealer")
    stage.air(range(0, 60, 5), "spray")
    stage.say(60, "job-close", vehicle="V-1")
    for second in range(65, 800, 30):
        stage.look(second)
        stage.restart()
    [entry] = stage.store.journal.entries(kinds=["finding"])
    assert (entry.body["step"], entry.body["end"]) == ("sealer", format_time(at(60)))
    assert len(entry.body["findings"]) > 5


def test_late_readings_make_a_finding_anew_and_add_a_second_hash(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, 300, 5), "spray", humidity=lambda second: None if 100 <= second < 220 else 45.0)
    stage.say(300, "step-end", vehicle="V-1", step="clear-1")
    stage.air(range(300, 600, 5), "flash")
    humidity = stage.watch.seen["V-1", "clear-1/relative_humidity"].finding
    assert (humidity.verdict, humidity.final) == ("unproven", True)
    for second in range(100, 220, 5):
        stage.measure(second, now=600, humidity=90.0)
    stage.look(605)
    assert stage.watch.seen["V-1", "clear-1/relative_humidity"].finding.verdict == "missed"
    hashes = [tuple(hashes_in(e.body)) for e in stage.store.journal.entries(kinds=["finding"]) if e.body["step"] == "clear-1"]
    assert len(hashes) == len(set(hashes)) == 2
    stage.restart()
    stage.look(610)
    assert len(list(stage.store.journal.entries(kinds=["finding"]))) == 2


def issued_after_late_readings(tmp_path: Path, at_the_end: Callable[[Stage, Callable[[], None]], None]) -> int:
    """A coat whose finding was issued, then late readings; how many entries about it there are in the end."""
    with Store.open(tmp_path, writer=True) as store:
        stage = Stage(store)
        open_job(stage)
        stage.say(0, "step-start", vehicle="V-1", step="clear-1")
        stage.air(range(0, 300, 5), "spray", look=False, humidity=lambda second: None if 100 <= second < 220 else 45.0)
        stage.say(300, "step-end", vehicle="V-1", step="clear-1")
        stage.air(range(300, 500, 5), "flash")

        def late() -> None:
            for second in range(100, 220, 5):
                stage.measure(second, now=600, humidity=46.0)

        at_the_end(stage, late)
        stage.look(620)
        return len([one for one in store.journal.entries(kinds=["finding"]) if one.body["step"] == "clear-1"])


def test_what_the_journal_refused_is_issued_when_it_can_be(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(stage: Stage, late: Callable[[], None]) -> None:
        def full(_: object) -> None:
            raise StoreError("the disk is full")

        late()
        with monkeypatch.context() as patch, pytest.raises(StoreError):
            patch.setattr(stage.store.journal, "append", full)
            stage.look(605)

    assert issued_after_late_readings(tmp_path, refused) == 2


def test_what_came_late_before_a_restart_is_issued_after_it(tmp_path: Path) -> None:
    def killed(stage: Stage, late: Callable[[], None]) -> None:
        late()
        stage.restart()

    assert issued_after_late_readings(tmp_path, killed) == 2


def test_a_late_mix_changes_a_final_finding(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1", mix="M-1")
    stage.air(range(0, 300, 5), "spray")
    stage.say(300, "step-end", vehicle="V-1", step="clear-1")
    stage.look(500)
    assert stage.watch.seen["V-1", "clear-1/lots"].finding.verdict == "unproven"
    lots = {"resin": "R-1", "hardener": "H-1"}
    stage.say(-30, "mix", "mix-room", now=510, mix="M-1", coating="two-pack-clear", lots=lots)
    stage.look(515)
    assert stage.watch.seen["V-1", "clear-1/lots"].finding.verdict == "met"


def test_what_lies_ahead_isnt_judged_yet(stage: Stage) -> None:
    """An event from a clock that is ten seconds fast, and one that somebody entered for the evening."""
    one_coat(stage)
    stage.store.journal.append([Draft("job-close", {"vehicle": "V-1"}, at(90 * 60), at(400), "cli")])
    stage.say(420, "step-start", vehicle="V-1", step="clear-1", now=410)
    stage.look(415)
    assert stage.watch.jobs["V-1"].round.closed is None
    assert [run.step for run in stage.watch.jobs["V-1"].round.runs] == ["clear-2"]
    stage.look(420)
    assert {run.step for run in stage.watch.jobs["V-1"].round.runs} == {"clear-1", "clear-2"}
    stage.restart()
    stage.look(90 * 60)
    assert stage.watch.jobs["V-1"].round.closed == at(90 * 60)


# Faults and old configurations


def test_a_rule_that_fails_silences_neither_the_others_nor_the_logging(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(requirement, evidence, as_of):
        if requirement.kind == "air_temperature":
            raise ZeroDivisionError("planted")
        return judge(requirement, evidence, as_of)

    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, 100, 5), "spray", air_temperature=10.0)
    assert stage.watch.book.alarms["V-1/1/clear-1/air_temperature"].condition.latched
    monkeypatch.setattr(assess, "judge", failing)
    stage.air(range(100, 300, 5), "spray", humidity=90.0)
    assert stage.watch.seen["V-1", "clear-1/air_temperature"].finding.verdict == "unproven"
    assert stage.watch.book.alarms["V-1/1/clear-1/air_temperature"].state == "unacknowledged"  # a fault takes no miss back
    assert stage.watch.book.alarms["V-1/1/clear-1/relative_humidity"].condition.latched
    assert stage.watch.book.alarms["V-1/1/clear-1/air_temperature/fault"].condition.audience == "maintenance"
    assert stage.store.readings.counts()["south/air-temperature"] == 60


def test_a_fault_in_telling_of_one_van_silences_no_alarm(
    stage: Stage, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def failing(*_: object) -> None:
        raise ZeroDivisionError("planted")

    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    monkeypatch.setattr(telling, "_told_in", failing)
    stage.air(range(0, 200, 5), "spray", air_temperature=10.0, air_velocity=0.0, gun_1=300.0)
    assert stage.watch.book.alarms["V-1/1/clear-1/air_temperature"].condition.latched
    assert stage.watch.book.alarms["south/airflow"].state == "unacknowledged"
    assert len([one for one in caplog.records if "V-1" in one.message]) == 1


def test_a_job_is_judged_under_the_configuration_that_it_was_opened_under(tmp_path: Path) -> None:
    """The sheet's latest start of the bake is changed in the middle of the job from 30 to 20 min: not for this van."""
    files = dict(demo_shop().files)
    files["coatings/two-pack-clear.toml"] = files["coatings/two-pack-clear.toml"].replace(
        'latest = "30 min"', 'latest = "20 min"'
    )
    changed = load_shop(files)
    assert changed.sha256 != demo_shop().sha256
    with Store.open(tmp_path, writer=True) as store:
        stage = Stage(store)
        one_coat(stage)
        stage.look(310)
        later = Stage(store, changed, begin=320)
        later.say(330, "job-open", vehicle="V-2", process="standard")
        later.say(340, "step-start", vehicle="V-2", step="clear-2")
        later.say(350, "step-end", vehicle="V-2", step="clear-2")
        later.look(300 + LATEST + 60)
        assert later.alarms(BAKE_START)[-1][1:3] == ("unacknowledged", 300 + LATEST)
        assert later.alarms("V-2/1/bake/bake_start")[-1][1:3] == ("unacknowledged", 350 + 1200)


def test_a_job_whose_process_is_gone_is_not_passed_over_in_silence(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        body = {"vehicle": "V-1", "process": "long-gone"}
        store.journal.append([Draft("job-open", body, at(-50), at(-50), "mqtt", private={"by": "badge-17"})])
        stage = Stage(store)
        stage.look(0)
        [message] = stage.ears.of_the_work()
        assert (message["alarm"], message["audience"]) == ("V-1/unreadable", "maintenance")
        assert "long-gone" in message["sentence"]
