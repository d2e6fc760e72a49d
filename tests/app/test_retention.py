"""Retention: whatever a record rests on stays, and the records say the same before and after."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from plants import demo_shop
from stage import Stage, at, open_job

from booth import retention
from booth.reports.record import build_record, judge_vehicle
from booth.shop.shop import Shop, load_shop
from booth.store import Draft, Reading, Store
from booth.times import HOUR, SECOND, format_time, parse_time
from booth.verifying import differences, verify_evidence
from tests.cli.commands import booth

DAY = 24 * HOUR
LOTS = {"resin": "R-1", "hardener": "H-1"}
YEAR_LATER = 365 * DAY // SECOND
KEEP = '\n[store]\nkeep_readings = "30 day"\n'


def keeping(text: str = KEEP) -> Shop:
    files = dict(demo_shop().files)
    return load_shop(files | {"site.toml": files["site.toml"] + text})


def idle(store: Store, point: str, first_day: int, days: int) -> None:
    """A reading every half hour."""
    times = [at(0) + first_day * DAY + n * HOUR // 2 for n in range(48 * days)]
    store.readings.append([Reading(point, time, time, "21", "degC", 21.0, 1) for time in times])


@pytest.fixture
def shift(tmp_path: Path) -> Iterator[Stage]:
    """A coat out of a pot mixed before it, in a booth that was idle for weeks before and after; a job that is closed."""
    with Store.open(tmp_path / "store", writer=True) as store:
        stage = Stage(store, keeping())
        for point in ("south/air-temperature", "north/air-temperature", "mix-room/pot-1"):
            idle(store, point, -20, 19)
            idle(store, point, 2, 19)
        open_job(stage)
        stage.say(0, "mix", "mix-room", mix="M-1", coating="two-pack-clear", lots=LOTS, pot="pot-1")
        for second in range(0, 1500, 10):
            stage.measure(second, "mix-room", pot_1=None)
        stage.air(range(0, 1000, 10), "idle", look=False)
        stage.say(1001, "step-start", vehicle="V-1", step="clear-1", mix="M-1")
        stage.air(range(1000, 1300, 10), "spray", look=False)
        stage.say(1300, "step-end", vehicle="V-1", step="clear-1")
        stage.air(range(1300, 1500, 10), "flash")
        yield stage


def later(stage: Stage) -> int:
    """A year on, with somebody still measuring."""
    now = at(YEAR_LATER)
    stage.store.readings.append([Reading("south/air-temperature", now, now, "21", "degC", 21.0, 1)])
    return now


def test_by_default_nothing_is_ever_deleted(shift: Stage) -> None:
    now = later(shift)
    assert retention.before(demo_shop(), shift.store, now) is None
    assert retention.prune(demo_shop(), shift.store, now).stretches == ()


def test_a_record_says_the_same_and_its_hashes_hold(shift: Stage) -> None:
    shift.say(1600, "job-close", vehicle="V-1")
    now = later(shift)
    before = build_record(judge_vehicle(shift.shop, shift.store, "V-1", at(2000)))
    kept = {one.time for one in shift.store.readings.rows("south/humidity", 0, 2**62)}
    done = retention.prune(shift.shop, shift.store, now)
    assert sum(one.count for one in done.stretches) > 3 * 30 * 48
    after = build_record(judge_vehicle(shift.shop, shift.store, "V-1", at(2000)))
    told = [one for one in differences(before, after) if not one[0].startswith("journal")]
    assert told == []
    assert {one.time for one in shift.store.readings.rows("south/humidity", 0, 2**62)} == kept
    checked, problems = verify_evidence(shift.store)
    assert checked > 0 and problems == []
    assert (shift.store.readings.verify().problems, shift.store.journal.verify().problems) == ((), ())
    for entry in shift.store.journal.entries(kinds=["retention"]):
        assert set(entry.body) == {"point", "from", "to", "count", "sha256", "summaries_sha256"}
        assert parse_time(entry.body["from"]) < parse_time(entry.body["to"]) <= now - 30 * DAY


def test_a_day_on_either_side_of_a_job_stays_in_its_booths_only(shift: Stage) -> None:
    shift.say(1600, "job-close", vehicle="V-1")
    needed = retention.needed(shift.shop, shift.store)
    begin, end = at(-60), at(1600)
    for booth_of in ("south/anything", "mix-room/pot-1"):
        assert needed(booth_of, begin - 20 * HOUR, begin - 19 * HOUR)
        assert needed(booth_of, end + 22 * HOUR, end + 23 * HOUR)
        assert not needed(booth_of, begin - 30 * HOUR, begin - 26 * HOUR)
        assert not needed(booth_of, end + 26 * HOUR, end + 27 * HOUR)
    assert not needed("north/air-temperature", begin, end)


def test_an_open_job_keeps_its_booths_until_it_is_closed(shift: Stage) -> None:
    now = later(shift)
    retention.prune(shift.shop, shift.store, now)
    points = {one.point: one for one in shift.store.readings.held()}
    after = [one for one in shift.store.readings.rows("south/air-temperature", at(1600), now - DAY)]
    assert len(after) == 19 * 48, "the van may still be in there"
    assert "north/air-temperature" not in points
    assert retention.needed(shift.shop, shift.store).open_since is not None


def test_a_clock_that_leaps_ahead_deletes_nothing(shift: Stage) -> None:
    """The newest reading's own time counts, too: with instruments that kept their time, ten years ahead are no ten years."""
    shift.say(1600, "job-close", vehicle="V-1")
    done = retention.prune(shift.shop, shift.store, at(10 * YEAR_LATER))
    newest = at(0) + 21 * DAY
    assert all(one.end <= newest - 30 * DAY for one in done.stretches)


def test_a_clock_that_leaps_ahead_with_the_instruments_deletes_nothing(shift: Stage) -> None:
    """Where every point sends bare numbers their times leap too; the logger's own note of the leap is what is left."""
    shift.say(1600, "job-close", vehicle="V-1")
    now = later(shift)
    leap = {"before": format_time(at(2000)), "after": format_time(now), "followed": True}
    shift.store.journal.append([Draft("clock-step", leap, now, now, "logger")])
    assert retention.prune(shift.shop, shift.store, now + HOUR).stretches == ()
    shift.store.readings.append([Reading("south/air-temperature", now + 8 * DAY, now, "21", "degC", 21.0, 1)])
    assert retention.prune(shift.shop, shift.store, now + 8 * DAY).stretches != ()


def test_a_small_step_of_the_clock_is_no_leap(shift: Stage) -> None:
    shift.say(1600, "job-close", vehicle="V-1")
    now = later(shift)
    step = {"before": format_time(now), "after": format_time(now + 5 * SECOND), "followed": True}
    shift.store.journal.append([Draft("clock-step", step, now, now, "logger")])
    assert retention.prune(shift.shop, shift.store, now).stretches != ()


def test_what_records_need_is_asked_only_where_something_is_old(shift: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    whole = retention.needed
    monkeypatch.setattr(retention, "needed", lambda *which: asked.append(1) or whole(*which))
    retention.prune(shift.shop, shift.store, at(0) + 2 * DAY)
    assert asked == []
    retention.prune(shift.shop, shift.store, later(shift))
    assert asked == [1]


def test_the_command_tells_first_and_deletes_when_told_to(shift: Stage, tmp_path: Path) -> None:
    shift.say(1600, "job-close", vehicle="V-1")
    later(shift)
    folder = shift.store._database.path.parent
    config = tmp_path / "config"
    for name, text in shift.shop.files.items():
        (config / name).parent.mkdir(parents=True, exist_ok=True)
        (config / name).write_text(text, encoding="utf-8")
    before = shift.store.readings.counts()
    told = booth("store", "--prune", "--json", config=config, store=folder)
    assert (told.code, told.json["deleted"], shift.store.readings.counts()) == (0, False, before)
    assert "nothing was. Write --prune --yes" in " ".join(booth("store", "--prune", config=config, store=folder).out.split())
    done = booth("store", "--prune", "--yes", "--json", config=config, store=folder).json
    assert (done["deleted"], done["readings"]) == (True, told.json["readings"])
    assert sum(before.values()) - sum(shift.store.readings.counts().values()) == done["readings"] > 0
    assert booth("verify", config=config, store=folder).code == 0
    assert "Nothing to delete" in booth("store", "--prune", config=config, store=folder).out
    (config / "site.toml").write_text(demo_shop().files["site.toml"], encoding="utf-8")
    refused = booth("store", "--prune", config=config, store=folder)
    assert refused.code == 2 and 'keep_readings = "3650 day"' in " ".join(refused.err.split())
    alone = booth("store", "--yes", config=config, store=folder)
    assert alone.code == 2 and "--prune --yes" in alone.err
