"""Whatever happens to server, network or mirror: in the end the server has exactly the store's readings, each once.

The server is a real influxd (see peers.py); what it keeps is asked with its own query language. That it keeps what it answered
204 to, and that a line sent again overwrites itself, is InfluxDB's documented behaviour ("Write data", "Duplicate points").
"""

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import pytest

from booth.mirror.memory import FILE
from booth.store import Store, StoreError
from booth.times import HOUR
from tests.mirror.desk import NOW, POINTS, START, Desk, fill, finding, held, mirrored, reading
from tests.mirror.peers import Influxd
from tests.mirror.shim import Fault, Shim


def test_up(desk: Desk, store: Store, influxd: Influxd) -> None:
    fill(store, range(2500))
    desk.run()
    assert len(held(store)) == 7500
    assert mirrored(influxd) == held(store)


def test_what_comes_while_it_runs_is_sent_too(desk: Desk, store: Store, influxd: Influxd) -> None:
    for beginning in range(0, 50, 10):
        fill(store, range(beginning, beginning + 10))
        desk.run()
        assert mirrored(influxd) == held(store)


def test_down_for_a_while(desk: Desk, store: Store, influxd: Influxd) -> None:
    fill(store, range(10))
    desk.run()
    influxd.stop()
    for beginning in range(10, 4000, 1000):  # more than an hour of readings
        fill(store, range(beginning, beginning + 1000))
        assert desk.mirror.attempt() >= 1
    assert "502" in desk.memory.state().problem
    influxd.start()
    desk.run()
    assert desk.memory.state().problem is None
    assert mirrored(influxd) == held(store)


def test_catches_up_in_order(desk: Desk, store: Store, influxd: Influxd) -> None:
    """While it catches up, what the server has of a point is always a beginning, without holes."""
    fill(store, range(4000))
    desk.mirror.attempt()
    got, all_of_it = mirrored(influxd), held(store)
    assert 0 < len(got) < len(all_of_it)
    for point in POINTS:
        own = [row for row in got if row[0] == point]
        assert own == [row for row in all_of_it if row[0] == point][: len(own)]


def test_slower_than_we_wait(store: Store, shim: Shim, influxd: Influxd, tmp_path: Path) -> None:
    """An answer that comes too late: the server has the lines, we don't know it, and send them again."""
    fill(store, range(500))
    shim.faults.extend([Fault(before=0.6), Fault(before=0.6)])
    with Desk(tmp_path / "store", shim.url, timeout_s=0.3) as desk:
        desk.mirror.attempt()
        assert "no answer" in desk.memory.state().problem
        assert desk.memory.places == {}
        desk.run()
    assert mirrored(influxd) == held(store)


def test_nobody_listens(store: Store, shim: Shim, influxd: Influxd, tmp_path: Path) -> None:
    fill(store, range(5))
    with Desk(tmp_path / "store", "http://127.0.0.1:9") as desk:  # the discard port: nobody has it
        assert [desk.mirror.attempt() for _ in range(8)] == [1, 2, 4, 8, 16, 32, 60, 60]
        assert "no answer from http://127.0.0.1:9" in desk.memory.state().problem
    with Desk(tmp_path / "store", shim.url) as desk:
        desk.run()
    assert mirrored(influxd) == held(store)


@pytest.mark.parametrize("status", [429, 503])
def test_retry_after_is_honoured(desk: Desk, store: Store, shim: Shim, influxd: Influxd, status: int) -> None:
    fill(store, range(5))
    in_a_while = format_datetime(datetime.now(UTC) + timedelta(seconds=90), usegmt=True)
    shim.faults.extend([Fault(status, "17"), Fault(status, in_a_while), Fault(status), Fault(status, "soon")])
    assert desk.mirror.attempt() == 17
    assert len(shim.answers) == 1  # one write was one request: the client didn't try again by itself
    assert 80 < desk.mirror.attempt() <= 90
    assert desk.mirror.attempt() == 4  # nothing said, or nothing that can be read: our own pause, doubled each time
    assert desk.mirror.attempt() == 8
    assert str(status) in desk.memory.state().problem
    assert mirrored(influxd) == []
    desk.run()
    assert mirrored(influxd) == held(store)
    shim.faults.append(Fault(status))
    fill(store, [6])
    assert desk.mirror.attempt() == 1  # success starts the pauses anew


def test_killed_after_a_204(desk: Desk, store: Store, shim: Shim, influxd: Influxd) -> None:
    fill(store, range(333))
    shim.faults.append(Fault(then=influxd.kill))
    desk.mirror.attempt()
    assert desk.waiting() == 0 and shim.answers[0] == 204
    fill(store, range(333, 400))
    influxd.start()
    desk.run()
    assert mirrored(influxd) == held(store)


def test_killed_before_its_204_was_heard(desk: Desk, store: Store, shim: Shim, influxd: Influxd) -> None:
    fill(store, range(333))
    shim.faults.append(Fault(then=influxd.kill, mute=True))
    desk.mirror.attempt()
    assert desk.memory.places == {} and shim.answers == [0]
    influxd.start()
    assert len(mirrored(influxd)) == 999
    desk.run()
    assert shim.answers == [0, 204]
    assert mirrored(influxd) == held(store)


def test_only_204_counts(desk: Desk, store: Store, shim: Shim, influxd: Influxd) -> None:
    """A 200 may come from anything that speaks HTTP."""
    fill(store, range(5))
    shim.faults.append(Fault(200))
    desk.mirror.attempt()
    assert "204" in desk.memory.state().problem and desk.memory.places == {}
    desk.run()
    assert mirrored(influxd) == held(store)


def test_mirror_restarted_in_the_middle(desk: Desk, store: Store, influxd: Influxd) -> None:
    fill(store, range(4500))
    desk.mirror.attempt()
    assert 0 < len(mirrored(influxd)) < len(held(store))
    desk.restart()
    fill(store, range(4500, 4600))
    desk.run()
    assert mirrored(influxd) == held(store)


def test_mirror_killed_between_the_204_and_its_own_note(desk: Desk, store: Store, influxd: Influxd, tmp_path: Path) -> None:
    """Its file is as it was before the write: the write is repeated and changes nothing."""
    fill(store, range(300))
    desk.run()
    desk.memory._database.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    before = tmp_path / "before"
    shutil.copy(tmp_path / "store" / FILE, before)
    fill(store, range(300, 700))
    store.journal.append([finding("TV-0001")])
    desk.run()
    desk.__exit__()
    shutil.copy(before, tmp_path / "store" / FILE)
    desk.__enter__()
    assert desk.waiting() == 1201
    desk.run()
    assert mirrored(influxd) == held(store)
    assert len(influxd.query("SELECT sentence FROM booth_finding")) == 2


def test_its_file_deleted(desk: Desk, store: Store, influxd: Influxd, tmp_path: Path) -> None:
    fill(store, range(1500))
    desk.run()
    desk.__exit__()
    for file in (tmp_path / "store").glob(f"{FILE}*"):
        file.unlink()
    desk.__enter__()
    assert desk.waiting() == 4500
    desk.run()
    assert mirrored(influxd) == held(store)


def test_readings_that_come_late(desk: Desk, store: Store, influxd: Influxd) -> None:
    """Into hours that were sent, into one that had none, before everything, and beside the newest."""
    fill(store, range(0, 9000, 3))
    desk.run()
    fill(store, [1, 2, 4, 3601, 8998])
    fill(store, [-90_000], POINTS[:1])
    fill(store, range(20_000, 20_005), POINTS[1:2])
    desk.run()
    assert mirrored(influxd) == held(store)
    fill(store, range(15_000, 15_010), POINTS[1:2])
    fill(store, [1], POINTS[:1])  # a duplicate
    desk.run()
    assert mirrored(influxd) == held(store)


def test_a_late_reading_while_the_server_is_down(desk: Desk, store: Store, shim: Shim, influxd: Influxd) -> None:
    fill(store, range(0, 4000, 2))
    desk.run()
    fill(store, [101])
    shim.faults.append(Fault(503))
    desk.mirror.attempt()
    assert desk.memory.state().problem is not None
    desk.restart()
    desk.run()
    assert mirrored(influxd) == held(store)


def test_readings_that_were_sealed_meanwhile(desk: Desk, store: Store, shim: Shim, influxd: Influxd) -> None:
    """What wasn't sent when it was sealed is sent, what was isn't again, and what comes late for a sealed hour is found."""
    fill(store, range(0, 8000, 2))
    desk.mirror.attempt()
    fill(store, range(8000, 16_000, 2))
    sealed = store.readings.seal(START + 4 * HOUR)
    assert sealed.readings > 12_000
    desk.run()
    assert mirrored(influxd) == held(store)
    writes = len(shim.answers)
    desk.look_back()
    assert len(shim.answers) == writes
    fill(store, [1, 3601, 7999, 15_999])
    desk.run()
    assert mirrored(influxd) == held(store)


def test_contradicting_values_are_both_there_and_marked(desk: Desk, store: Store, influxd: Influxd) -> None:
    fill(store, range(10))
    desk.run()
    (point, moment, value), *_ = held(store)
    store.readings.append([reading(point, moment, value + 1), reading(point, moment, value + 2)])
    desk.run()
    assert mirrored(influxd) == held(store)
    marked = influxd.query("SELECT value, quality FROM booth_reading WHERE quality = 'conflict'")
    assert sorted(row["value"] for row in marked) == [value, value + 1, value + 2]


def test_wrong_token_and_unknown_bucket(store: Store, shim: Shim, influxd: Influxd, tmp_path: Path) -> None:
    fill(store, range(5))
    with Desk(tmp_path / "store", shim.url, token="another") as desk:
        desk.mirror.attempt()
        assert "401" in desk.memory.state().problem and "token_file" in desk.memory.state().problem
        assert "another" not in desk.memory.state().problem and "another" not in repr(desk.settings)
    with Desk(tmp_path / "store", shim.url, bucket="elsewhere") as desk:
        desk.mirror.attempt()
        assert "404" in desk.memory.state().problem
        assert desk.memory.aside(1)[0] == 0
    with Desk(tmp_path / "store", shim.url) as desk:
        desk.run()
    assert mirrored(influxd) == held(store)


def test_a_store_restored_from_a_backup(desk: Desk, store: Store, influxd: Influxd, tmp_path: Path) -> None:
    """Its journal goes on differently from the one that was mirrored: everything is sent again, nothing is left out."""
    store.journal.append([finding("TV-0001"), finding("TV-0002")])
    desk.run()
    desk.__exit__()
    other = tmp_path / "restored"
    other.mkdir()
    shutil.copy(tmp_path / "store" / FILE, other / FILE)
    with Store.open(other, writer=True) as restored:
        restored.journal.append([finding("TV-0003", "sealer"), finding("TV-0004", "base-1"), finding("TV-0005", "clear-2")])
        desk.directory = other
        desk.__enter__()
        desk.run()
    vehicles = {row["vehicle"] for row in influxd.query("SELECT vehicle FROM booth_finding")}
    assert vehicles == {f"TV-000{number}" for number in range(1, 6)}


def test_one_mirror_at_a_time(desk: Desk, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="another mirror"):
        Desk(tmp_path / "store", "http://127.0.0.1:9").__enter__()


def test_it_knows_when_it_last_sent(desk: Desk, store: Store) -> None:
    assert desk.memory.state().sent is None
    fill(store, range(2))
    desk.run()
    assert desk.memory.state().sent == NOW
