"""The store is kept in order beside a running logger: hours are sealed by themselves, and its own commits go on meanwhile."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from plants import demo_shop

from booth.clocks import SystemClock, TickClock
from booth.shop.shop import Shop, load_shop
from booth.store import Reading, Store
from booth.times import HOUR, SECOND
from booth.upkeep import Upkeep, keeping_up

POINT = "south/air-temperature"
H = 1_783_944_000_000_000


def shop(text: str) -> Shop:
    files = dict(demo_shop().files)
    return load_shop(files | {"site.toml": files["site.toml"] + text})


def hours(store: Store, count: int, begin: int = H) -> None:
    times = [begin + n * SECOND for n in range(3600 * count)]
    values = [one // SECOND % 9 for one in times]
    store.readings.append([Reading(POINT, one, one, str(n), "degC", float(n), 1) for one, n in zip(times, values, strict=True)])


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 60
    while not true() and time.monotonic() < deadline:
        time.sleep(0.02)
    assert true()


def test_what_is_older_than_the_site_says_is_sealed(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        hours(store, 5)
        Upkeep(shop('\n[store]\nseal_after = "2 h"\n'), tmp_path, TickClock(H + 5 * HOUR), pause_s=0).turn()
        (held,) = store.readings.held()
        assert (held.sealed, held.hot) == (3 * 3600, 2 * 3600)


def test_by_default_two_days_stay_as_they_came(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        hours(store, 2)
        Upkeep(demo_shop(), tmp_path, TickClock(H + 49 * HOUR), pause_s=0).turn()
        (held,) = store.readings.held()
        assert (held.sealed, held.hot) == (3600, 3600)


def test_the_logger_goes_on_while_its_hours_are_sealed(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        hours(store, 4)
        upkeep = Upkeep(demo_shop(), tmp_path, SystemClock(), every_s=0.05, pause_s=0.01)
        upkeep.start()
        count = 0
        while upkeep.turns == 0:
            now = H + 9 * HOUR + count * SECOND
            store.readings.append([Reading(POINT, now, now, "1", "degC", 1.0, 1)])
            count += 1
            time.sleep(0.005)
        upkeep.stop()
        assert upkeep.problem is None and upkeep.longest_lock_s > 0
        held = {one.point: one for one in store.readings.held()}[POINT]
        assert held.hot + held.sealed == 4 * 3600 + count and held.sealed >= 4 * 3600
        assert store.readings.verify().ok


def test_it_stops_in_the_middle_and_goes_on_next_time(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        hours(store, 6)
        upkeep = Upkeep(demo_shop(), tmp_path, SystemClock(), pause_s=3600)
        upkeep.start()
        until(lambda: store.readings.held()[0].sealed > 0)
        upkeep.stop()
        assert store.readings.held()[0].sealed == 3600
        assert not any(one.name == "upkeep" for one in threading.enumerate())
        Upkeep(demo_shop(), tmp_path, SystemClock(), pause_s=0).turn()
        assert store.readings.held()[0].hot == 0


def test_a_plant_s_ticks_are_no_time_to_seal_by(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True) as store:
        hours(store, 1)
        with keeping_up(demo_shop(), tmp_path, TickClock(H + 100 * HOUR)):
            assert not any(one.name == "upkeep" for one in threading.enumerate())
        assert store.readings.held()[0].sealed == 0


def test_what_goes_wrong_is_said_once_and_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    upkeep = Upkeep(demo_shop(), tmp_path / "nowhere", SystemClock(), every_s=0.01)
    upkeep.start()
    until(lambda: upkeep.turns > 2)
    with Store.open(tmp_path / "nowhere", writer=True) as store:
        hours(store, 1)
        until(lambda: upkeep.problem is None and store.readings.held()[0].sealed == 3600)
        upkeep.stop()
    assert len([one for one in caplog.messages if "readings are not being sealed" in one]) == 1
