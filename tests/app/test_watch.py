"""The live state: restarts, other processes, late and future entries, old configurations, rules that fail."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from plants import demo_shop
from stage import Stage, at, open_job

from booth.grounds import hashes_in
from booth.judge import assess
from booth.judge.judge import judge
from booth.shop.shop import load_shop
from booth.store import Draft, Store, StoreError
from booth.times import format_time

LATEST = 1800  # two-pack clear: the bake starts 10 to 30 min after the last coat
BAKE_START = "V-1/1/bake/bake_start"


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Store.open(tmp_path, writer=True) as store:
        yield Stage(store)


def one_coat(stage: Stage, end: int = 300) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-2")
    stage.say(end, "step-end", vehicle="V-1", step="clear-2")


# Restarts and exactly once


def short_shift(store: Store, restart_every: int | None, offset: int = 0) -> tuple[list, list, list]:
    """A coat with a humid spell, a silent probe and a late bake, one tick every 5 s; alarms, told steps, issued findings."""
    stage, van_id = Stage(store), "V-1"
    open_job(stage)
    script = {
        0: ("step-start", {"step": "clear-1"}),
        420: ("step-end", {"step": "clear-1"}),
        1000: ("step-start", {"step": "clear-2"}),
        1300: ("step-end", {"step": "clear-2"}),
        3200: ("acknowledge", {"alarm": BAKE_START}),
        3700: ("job-close", {}),
    }
    for tick, second in enumerate(range(0, 3800, 5)):
        for moment, (kind, facts) in script.items():
            if moment == second:
                stage.say(second, kind, **({"vehicle": van_id} if kind != "acknowledge" else {}), **facts)
        spraying = second < 420 or 1000 <= second < 1300
        mode = "spray" if spraying else "bake" if second >= 3300 else "flash"
        humid = 85.0 if 100 <= second < 130 or 1100 <= second < 1220 else 45.0
        humidity = None if 200 <= second < 300 else humid
        stage.air([second], mode, look=False, humidity=humidity, air_temperature=24 - second / 600 if second < 420 else 23)
        stage.look(second)
        if restart_every and tick % restart_every == offset:
            stage.restart()
    findings = [e.body | {} for e in store.journal.entries(kinds=["finding"])]
    return stage.alarms(), stage.told(), findings


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> tuple[list, list, list]:
    with Store.open(tmp_path_factory.mktemp("whole"), writer=True) as store:
        return short_shift(store, None)


def test_what_the_short_shift_is_made_of(undisturbed: tuple) -> None:
    alarms, told, findings = undisturbed
    by_id: dict[str, list] = {}
    for name, state, second, priority in alarms:
        by_id.setdefault(name, []).append((state, second, priority))
    assert by_id["V-1/1/clear-1/relative_humidity"][:1] == [("unacknowledged", 110, "warning")]
    assert ("unacknowledged", 1160, "alarm") in by_id["V-1/1/clear-2/relative_humidity"]
    assert by_id["south/humidity/stale"][:2] == [("unacknowledged", 235, "warning"), ("returned_unacknowledged", 320, "warning")]
    assert [one[:2] for one in by_id[BAKE_START]] == [
        ("unacknowledged", 2785),  # 5 min before the soonest moment, known to 15 s
        ("unacknowledged", 3100),
        ("acknowledged", 3200),
        ("normal", 3700),
    ]
    assert [one[1:] for one in told] == [("step-start", "bake", 3300)]
    assert {one["step"] for one in findings} == {"clear-1", "clear-flash", "clear-2", "bake"}


@pytest.mark.parametrize("offset", range(0, 10, 3))
def test_a_restart_at_every_tenth_tick_gives_the_same(undisturbed: tuple, tmp_path: Path, offset: int) -> None:
    with Store.open(tmp_path, writer=True) as store:
        alarms, told, findings = short_shift(store, 10, offset)
        assert store.journal.verify().ok
    assert alarms == undisturbed[0]
    assert told == undisturbed[1]
    assert findings == undisturbed[2]


def test_a_crash_between_an_acknowledgement_and_its_effect_loses_it_not(stage: Stage) -> None:
    one_coat(stage)
    stage.look(300 + LATEST + 60)
    stage.say(300 + LATEST + 70, "acknowledge", alarm=BAKE_START)
    stage.restart()
    stage.look(300 + LATEST + 75)
    stage.restart()
    stage.look(300 + LATEST + 80)
    assert [one[1:3] for one in stage.alarms(BAKE_START)][-1] == ("acknowledged", 300 + LATEST + 70)
    assert len([one for one in stage.alarms(BAKE_START) if one[1] == "acknowledged"]) == 1


def test_an_acknowledgement_of_nothing_doesnt_wait_for_something(stage: Stage) -> None:
    one_coat(stage)
    stage.say(400, "acknowledge", alarm=BAKE_START)
    stage.look(410)
    stage.restart()
    stage.look(300 + LATEST + 60)
    assert stage.alarms(BAKE_START)[-1][1] == "unacknowledged"


def test_entries_of_another_process_are_never_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another process writes in the very moment between the logger's reading and its writing."""
    with Store.open(tmp_path, writer=True) as store, Store.open(tmp_path) as other:
        stage = Stage(store)
        one_coat(stage)
        stage.look(300 + LATEST - 400)
        append, pending = store.journal.append, []

        def meanwhile(drafts):
            drafts = list(drafts)
            if pending and not store._database.in_transaction:
                other.journal.append([pending.pop()])
            return append(drafts)

        monkeypatch.setattr(store.journal, "append", meanwhile)
        body = {"vehicle": "V-1", "check": "wash", "result": "passed", "booth": "south"}
        pending.append(Draft("check", body, at(400), at(400), "cli"))
        stage.watch._append([Draft("note", {"vehicle": "V-1"}, at(400), at(400), "logger")], at(401))
        assert not pending
        assert [check.check for check in stage.watch.ledger.job("V-1").round.checks] == ["wash"]
        other.journal.append([Draft("acknowledge", {"alarm": BAKE_START}, at(2190), at(2190), "cli", private={"by": "badge-17"})])
        stage.look(300 + LATEST + 90)
        stage.look(300 + LATEST + 95)
        assert {seq for seq in range(1, stage.watch._read_to + 1)} == {entry.seq for entry in store.journal.entries()}


# Findings


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


# Alarms


def test_a_miss_stays_while_its_round_is_open_and_goes_with_it(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, 300, 5), "spray", humidity=lambda second: 90.0 if second >= 100 else 45.0)
    stage.say(300, "step-end", vehicle="V-1", step="clear-1")
    stage.air(range(300, 900, 5), "flash")
    name = "V-1/1/clear-1/relative_humidity"
    assert stage.watch.book.alarms[name].state == "unacknowledged"
    stage.say(900, "acknowledge", alarm=name)
    stage.say(950, "job-close", vehicle="V-1")
    stage.restart()
    stage.look(1500)
    assert stage.alarms(name)[-1][1:3] == ("normal", 950)


def test_a_miss_that_later_evidence_took_back_can_come_again(stage: Stage) -> None:
    one_coat(stage)
    stage.look(300 + LATEST + 60)
    start = next(e for e in stage.store.journal.entries(kinds=["step-end"]))
    stage.store.journal.append(
        [
            Draft(
                "correction",
                {"corrects": start.id, "set": {"time": format_time(at(900))}},
                at(2200),
                at(2200),
                "cli",
                private={"reason": "x"},
            )
        ]
    )
    stage.look(2205)
    assert stage.alarms(BAKE_START)[-1][1] == "returned_unacknowledged"
    stage.look(900 + LATEST + 30)
    assert stage.alarms(BAKE_START)[-1][1:3] == ("unacknowledged", 900 + LATEST)


def test_a_remedied_miss_needs_nobody_any_more(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="sealer")
    stage.say(300, "step-end", vehicle="V-1", step="sealer")
    late = 75 * 60 + 60
    stage.look(late)
    name = "V-1/1/sealer-flash/flash_maximum"
    assert stage.watch.book.alarms[name].condition.latched
    stage.say(late + 10, "check", vehicle="V-1", check="scuff", result="passed")
    stage.look(late + 15)
    assert stage.alarms(name)[-1][1:3] == ("returned_unacknowledged", late + 10)
    stage.look(late + 300)
    assert len(stage.alarms(name)) == len({one[1:] for one in stage.alarms(name)})


def test_an_alarm_says_the_booth_that_the_van_is_in(stage: Stage) -> None:
    one_coat(stage)
    stage.look(300 + LATEST + 60)
    assert {message["booth"] for message in stage.ears.of_the_work()} == {"south"}
    stage.say(300 + LATEST + 70, "load", vans=[])
    stage.restart()
    stage.look(300 + LATEST + 75)
    assert {message["booth"] for message in stage.ears.of_the_work()} == {"south"}


@pytest.mark.parametrize("every", [1, 7, 60])
def test_how_often_somebody_looks_changes_nothing(tmp_path: Path, every: int) -> None:
    with Store.open(tmp_path, writer=True) as store:
        stage = Stage(store)
        open_job(stage)
        stage.say(0, "step-start", vehicle="V-1", step="clear-1")
        for second in range(0, 600, 5):
            humid = 85.0 if 100 <= second < 130 or 200 <= second < 400 else 45.0
            stage.air([second], "spray", look=False, humidity=None if 450 <= second < 520 else humid)
            if second % (5 * every) == 0:
                stage.look(second)
        stage.look(600)
        seen = [one[:3] for one in stage.alarms() if "dew_point" not in one[0] and "/care/" not in one[0]]
        assert sorted(seen, key=lambda one: one[2]) == [
            ("V-1/1/clear-1/relative_humidity", "unacknowledged", 110),
            ("V-1/1/clear-1/relative_humidity", "returned_unacknowledged", 150),
            ("V-1/1/clear-1/relative_humidity", "unacknowledged", 210),
            ("V-1/1/clear-1/relative_humidity", "unacknowledged", 260),
            ("south/humidity/stale", "unacknowledged", 485),
            ("south/humidity/stale", "returned_unacknowledged", 540),
        ]


# The trend and the silent point


def test_a_falling_temperature_is_told_before_it_is_out(stage: Stage) -> None:
    """0.25 K a minute from 24 °C: 20 °C after 16 min. Ten minutes before, there is a trend of more than five minutes."""
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, 600, 5), "spray", air_temperature=lambda second: round(24 - second / 240, 1), humidity=30.0)
    first = stage.alarms("clear-1/air_temperature")[0]
    assert first[1] == "unacknowledged" and first[3] == "warning"
    assert 360 <= first[2] <= 420
    [message] = [m for _, m in stage.ears.heard if m["requirement"] == "clear-1/air_temperature"]
    assert "at this rate it crosses 20.0 °C in about" in message["sentence"]


def test_a_point_that_nobody_needs_may_be_silent_and_the_mode_is_maintenances(stage: Stage) -> None:
    open_job(stage)
    stage.air(range(0, 100, 5), "idle", filter_drop=None, part_2=None, humidity=None)
    assert stage.alarms("stale") == []
    for second in range(100, 300, 5):
        stage.look(second)
    told = {m["alarm"]: m["audience"] for _, m in stage.ears.heard}
    assert {name: told[f"south/{name}/stale"] for name in ("mode", "gun-1", "gun-2")} == dict.fromkeys(
        ("mode", "gun-1", "gun-2"), "maintenance"
    )
    # What the next step will need is the painter's already; what nobody needs is one piece of news for the whole booth.
    assert told["south/air-velocity/stale"] == "painter" and told["south/stale"] == "maintenance"
    assert not {f"south/{name}/stale" for name in ("filter-drop", "part-2", "exhaust-flow")} & set(told)


def test_a_silent_point_that_the_step_needs_is_the_painters(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-1")
    stage.air(range(0, 200, 5), "spray", humidity=None)
    told = {m["alarm"]: m["audience"] for _, m in stage.ears.heard if "stale" in m["alarm"]}
    assert told == {"south/humidity/stale": "painter"}
    stage.air(range(200, 260, 5), "spray")
    assert stage.alarms("stale")[-1][1] == "returned_unacknowledged"


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
