"""Restarts at any moment, and other processes that write: everything once, nothing passed over."""

from __future__ import annotations

from pathlib import Path

import pytest
from stage import BAKE_START, LATEST, Stage, at, one_coat, open_job

from booth.store import Draft, Store


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
