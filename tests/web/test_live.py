"""The board's eyes: what comes into the store is seen, in order or late, by another process than the one that wrote it."""

from __future__ import annotations

import threading
from pathlib import Path
from types import SimpleNamespace

import pytest

from booth.clocks import TickClock
from booth.store import Draft, Reading, Store
from booth.times import MINUTE, SECOND
from booth.web.painter.arrivals import LATE_EVERY_US, Arrivals
from booth.web.painter.live import AT_ONCE_S, LOOK_EVERY_S, QUIET_S, Live
from tests.app.plants import demo_shop
from tests.web.booth_scenes import SCENES, START, Play, at, made


def reading(second: int, value: float = 1.0, point: str = "south/humidity", arrived: int | None = None) -> Reading:
    return Reading(point, at(second), at(second if arrived is None else arrived), str(value), "percent", value, 1)


@pytest.fixture
def two(tmp_path: Path):
    """The logger's connection and the board's."""
    with Store.open(tmp_path, writer=True) as ours, Store.open(tmp_path) as theirs:
        yield ours, theirs


def test_arrivals_are_each_told_once(two) -> None:
    ours, theirs = two
    ours.readings.append([reading(0)])
    arrivals = Arrivals(theirs.readings, at(0))
    assert arrivals.new(at(1)) == () and arrivals.arrived == at(0)
    ours.readings.append([reading(1), reading(2), reading(2, point="south/part-1")])
    assert sorted((one.point, one.time) for one in arrivals.new(at(2))) == [
        *(("south/humidity", at(1)), ("south/humidity", at(2)), ("south/part-1", at(2)))
    ]
    assert arrivals.new(at(3)) == () and arrivals.arrived == at(2)


def test_what_comes_late_is_found_behind_the_newest(two) -> None:
    ours, theirs = two
    ours.readings.append([reading(0), reading(100)])
    arrivals = Arrivals(theirs.readings, at(100))
    ours.readings.append([reading(50, 7.0, arrived=101)])
    assert arrivals.new(at(101)) == ()
    found = arrivals.new(at(101) + LATE_EVERY_US)
    assert (50, 7.0) in [((one.time - START) // SECOND, one.value) for one in found]
    assert arrivals.new(at(102) + 2 * LATE_EVERY_US) == ()


def test_a_contradiction_is_found_too(two) -> None:
    ours, theirs = two
    ours.readings.append([reading(0, 40.0)])
    arrivals = Arrivals(theirs.readings, at(0))
    ours.readings.append([reading(0, 60.0)])
    assert {one.value for one in arrivals.new(at(0) + LATE_EVERY_US)} == {40.0, 60.0}


class Seconds:
    """A stopwatch that is set by hand."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def eyes_of(play: Play, store: Store, seconds: Seconds):
    from booth.web.painter.live import Eyes

    return Eyes(play.shop, store, TickClock(play.clock.now()), seconds)


def test_a_new_reading_is_in_the_next_snapshot(two) -> None:
    ours, theirs = two
    play, seconds = Play(ours), Seconds()
    SCENES["spraying"](play)
    eyes = eyes_of(play, theirs, seconds)
    eyes.follow()
    assert eyes.follow() is None
    play.air(120, 121, gun_1=300, air_temperature=25.5)
    seconds.now += AT_ONCE_S  # half a second after the last look, so well within a second of its arrival
    shown = {one["measure"]: one["value"] for one in eyes.follow()["south"]["figures"]}
    assert shown["air_temperature"] == 25.5


def test_an_entry_is_seen_at_once_and_time_passes_each_second(two) -> None:
    ours, theirs = two
    play, seconds = Play(ours), Seconds()
    SCENES["spraying"](play)
    eyes = eyes_of(play, theirs, seconds)
    eyes.follow()
    play.step(121, "step-end", "base-1")
    assert eyes.follow()["south"]["vans"][0]["now"]["step"] in ("base-1", "base-flash")
    assert eyes.follow() is None
    seconds.now += LOOK_EVERY_S
    assert eyes.follow() is not None


def test_a_probe_that_speaks_again_is_proof_again(two) -> None:
    ours, theirs = two
    play, seconds = Play(ours), Seconds()
    SCENES["unheard"](play)
    eyes = eyes_of(play, theirs, seconds)
    assert eyes.follow()["south"]["climate"]["word"] == "unproven"
    play.air(200, 206, gun_1=300)
    seconds.now += LOOK_EVERY_S
    assert eyes.follow()["south"]["climate"]["word"] == "in"


def test_a_plant_that_drives_the_clock_and_stops_is_told(two) -> None:
    ours, theirs = two
    play, seconds = Play(ours), Seconds()
    SCENES["spraying"](play)
    eyes = eyes_of(play, theirs, seconds)
    assert eyes.follow()["south"]["state"] == "live"
    seconds.now += QUIET_S + 1
    assert eyes.follow()["south"]["state"] == "silent"


def test_readings_older_than_max_age_are_no_live_picture(tmp_path: Path) -> None:
    clock = made(tmp_path, SCENES["spraying"])

    class Later:
        def now(self) -> int:
            return clock.now() + MINUTE

    from booth.web.painter.live import Eyes

    with Store.open(tmp_path) as store:
        assert Eyes(demo_shop(), store, Later()).follow()["south"]["state"] == "silent"


def test_the_thread_looks_and_stops(tmp_path: Path) -> None:
    clock = made(tmp_path, SCENES["flashing"])
    live = Live(SimpleNamespace(shop=demo_shop(), directory=tmp_path, clock=clock))
    live.start()
    assert live.wait_first(30)
    assert set(live.snapshots) == {"north", "south"} and live.problem is None
    live.stop()
    assert not any(thread.name == "board-live" for thread in threading.enumerate())


def test_a_store_that_is_not_there_is_told(tmp_path: Path) -> None:
    live = Live(SimpleNamespace(shop=demo_shop(), directory=tmp_path / "nowhere", clock=TickClock()))
    live.start()
    assert live.wait_first(30)
    live.stop()
    assert "there is no store here" in live.problem and live.snapshots == {}


def test_it_writes_nothing(two) -> None:
    ours, theirs = two
    play = Play(ours)
    SCENES["missed"](play)
    before = (ours.journal.head(), ours.readings.counts())
    eyes = play.eyes(theirs)
    eyes.follow()
    ours.journal.append([Draft("note", {"vehicle": play.vehicle}, at(1), at(1), "cli", private={"text": "a note"})])
    eyes.follow()
    assert (ours.journal.head().entries, ours.readings.counts()) == (before[0].entries + 1, before[1])
