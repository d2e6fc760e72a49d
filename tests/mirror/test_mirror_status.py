"""How far behind it is, as `booth status` shows it."""

from __future__ import annotations

import json
from pathlib import Path

from booth.mirror import status
from booth.store import Store
from booth.times import HOUR
from tests.mirror.desk import START, Desk, fill, finding
from tests.mirror.peers import Influxd
from tests.mirror.shim import Shim
from tests.mirror.test_mirror_settings import with_mirror
from tests.shop.demo_shop import shop


def test_no_mirror_no_status(store: Store, tmp_path: Path) -> None:
    assert status(shop(), tmp_path / "store", START) is None


def test_one_that_never_ran(store: Store, tmp_path: Path) -> None:
    fill(store, range(10))
    found = status(with_mirror(), tmp_path / "store", START + HOUR)
    assert (found["readings_behind"], found["entries_behind"], found["last_sent"]) == (30, 0, None)
    assert found["seconds_behind"] == 3600 - 0.25
    assert list((tmp_path / "store").glob("mirror*")) == []  # looking changes nothing


def test_behind_and_caught_up(desk: Desk, store: Store, influxd: Influxd, shim: Shim, tmp_path: Path) -> None:
    fill(store, range(10))
    desk.run()
    influxd.stop()
    fill(store, range(10, 110))
    store.journal.append([finding("TV-0001")])
    desk.mirror.attempt()
    found = status(with_mirror(), tmp_path / "store", START + HOUR)
    assert (found["readings_behind"], found["entries_behind"]) == (300, 1)
    assert found["seconds_behind"] == 3600  # the finding's step ended at START
    assert "502" in found["problem"] and found["problem_since"] == "2024-07-15T18:00:00.000Z"
    influxd.start()
    desk.run()
    found = status(with_mirror(), tmp_path / "store", START + HOUR)
    assert (found["readings_behind"], found["entries_behind"], found["seconds_behind"], found["problem"]) == (0, 0, 0.0, None)
    assert found["set_aside"] == {"count": 0, "recent": []} and found["too_old"] == 0
    json.dumps(found)
