"""A line that the server will never take is set aside with the server's reason, and keeps nothing else back.

What makes a line bad are real limits of a real influxd: a series key longer than 65,535 bytes, and a field whose type was fixed
otherwise before.
"""

from __future__ import annotations

import time
from pathlib import Path
from urllib.error import HTTPError

import pytest

from booth.mirror.server import Refused
from booth.store import Draft, Store
from booth.times import SECOND
from tests.mirror.desk import POINTS, START, Desk, alarm, fill, finding, held, mirrored, reading
from tests.mirror.peers import Influxd, get
from tests.mirror.shim import Fault, Shim

TOO_LONG = "north/" + "x" * 70_000


def test_one_bad_line_in_the_middle_of_a_batch(desk: Desk, store: Store, influxd: Influxd) -> None:
    fill(store, range(300))
    store.readings.append([reading(TOO_LONG, START + SECOND, 21.0)])
    desk.run()
    assert mirrored(influxd) == [row for row in held(store) if row[0] != TOO_LONG]
    count, [(line, reason, _)] = desk.memory.aside(5)
    assert count == 1 and "xxx" in line and "max key length exceeded" in reason
    assert desk.memory.state().problem is None


def test_it_is_not_tried_again_and_again(desk: Desk, store: Store, shim: Shim, influxd: Influxd) -> None:
    store.readings.append([reading(TOO_LONG, START + SECOND, 21.0)])
    desk.run()
    writes = len(shim.answers)
    desk.look_back()
    assert len(shim.answers) == writes
    fill(store, range(3))
    desk.run()
    assert len(shim.answers) == writes + 1
    assert desk.memory.aside(5)[0] == 1


def test_a_type_fixed_otherwise_before(desk: Desk, store: Store, influxd: Influxd) -> None:
    """Somebody wrote a text where alarms have a number: alarms of that day are refused, readings and findings go on."""
    get(f"{influxd.url}/write?db=booths", f'booth_alarm standing="yes" {START * 1000}'.encode())
    fill(store, range(5))
    store.journal.append([alarm("TV-0001"), finding("TV-0001")])
    desk.run()
    assert mirrored(influxd) == held(store)
    assert len(influxd.query("SELECT sentence FROM booth_finding")) == 2
    count, [(line, reason, _)] = desk.memory.aside(5)
    assert count == 1 and line.startswith("booth_alarm,") and "field type conflict" in reason


def test_the_peer_does_refuse_what_we_never_send(influxd: Influxd) -> None:
    """A number that was once an integer refuses a float: why every number of ours is one."""
    get(f"{influxd.url}/write?db=booths", b"made_up n=7i")
    with pytest.raises(HTTPError, match="400"):
        get(f"{influxd.url}/write?db=booths", b"made_up n=7.5")


def test_a_server_that_refuses_everything_sets_nothing_aside(desk: Desk, store: Store, shim: Shim, influxd: Influxd) -> None:
    fill(store, range(300))
    shim.faults.extend([Fault(400), Fault(400)])
    assert desk.mirror.attempt() == 1
    assert "refuses every line" in desk.memory.state().problem
    assert desk.memory.aside(1) == (0, []) and desk.memory.places == {}
    desk.run()
    assert mirrored(influxd) == held(store)


def test_too_much_at_once_is_sent_in_parts(desk: Desk, store: Store, shim: Shim, influxd: Influxd) -> None:
    """413: nothing is wrong with any of the lines."""
    fill(store, range(300))
    shim.faults.extend([Fault(413), Fault(), Fault(413)])
    desk.run()
    assert desk.memory.aside(1)[0] == 0
    assert mirrored(influxd) == held(store)


def test_what_the_bucket_keeps_no_longer_is_counted(store: Store, shim: Shim, influxd: Influxd, tmp_path: Path) -> None:
    """A bucket that keeps a day, readings of 2024 and one of just now."""
    influxd.query("CREATE DATABASE short WITH DURATION 1d")
    fill(store, range(1500))
    just_now = time.time_ns() // 1000
    store.readings.append([reading(POINTS[0], just_now, 21.5)])
    with Desk(tmp_path / "store", shim.url, bucket="short") as desk:
        desk.run()
        assert desk.memory.aside(1)[0] == 0
        assert desk.memory.state().too_old == 4500
    (row,) = influxd.query("SELECT value FROM booth_reading", "short")
    assert row["time"] == just_now * 1000


@pytest.mark.parametrize(
    "words",
    [
        "partial write: points beyond retention policy dropped=17",
        "partial write: dropped 17 points outside retention policy of duration 1h0m0s",  # from memory of later servers
    ],
)
def test_the_words_for_what_is_too_old(words: str) -> None:
    assert Refused(words).too_old == 17
    assert Refused("partial write: field type conflict dropped=17").too_old is None


def test_an_entry_that_makes_no_line(desk: Desk, store: Store, influxd: Influxd) -> None:
    store.journal.append([Draft("finding", {"vehicle": "TV-0001"}, START, START, "logger"), finding("TV-0002")])
    desk.run()
    assert {row["vehicle"] for row in influxd.query("SELECT vehicle FROM booth_finding")} == {"TV-0002"}
    count, [(what, reason, _)] = desk.memory.aside(5)
    assert (count, what) == (1, "journal entry 1") and "'points'" in reason


def test_a_late_reading_beside_a_bad_line(desk: Desk, store: Store, influxd: Influxd) -> None:
    """The hour is sent again, the bad line in it too; it isn't set aside twice."""
    store.readings.append([reading(TOO_LONG, START + second * SECOND, 21.0) for second in (1, 3)])
    desk.run()
    store.readings.append([reading(TOO_LONG, START + 2 * SECOND, 21.0)])
    fill(store, range(5), POINTS[:1])
    desk.run()
    assert desk.memory.aside(9)[0] == 3
    assert mirrored(influxd) == [row for row in held(store) if row[0] != TOO_LONG]
