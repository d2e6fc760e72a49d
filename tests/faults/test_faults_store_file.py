"""Two loggers on one store, and a store whose file is damaged: in sentences, with what is whole still served."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from booth.store import Reading, Store
from booth.times import HOUR, MINUTE
from tests.broker import MosquittoBroker
from tests.cli.commands import booth
from tests.faults.child import Child, subscribed
from tests.faults.compare import keys, missing, problems
from tests.faults.plant import Publisher, reading

H = 1_783_944_000_000_000

pytestmark = pytest.mark.xdist_group("store file")


@pytest.fixture
def child(mosquitto: MosquittoBroker, tmp_path: Path) -> Iterator[Child]:
    one = Child(mosquitto, tmp_path)
    yield one
    one.kill()


def test_a_second_logger_says_so_and_stops_and_the_first_goes_on(
    child: Child, mosquitto: MosquittoBroker, tmp_path: Path
) -> None:
    child.start()
    child.wait(lambda: subscribed(mosquitto), "the subscription")
    (tmp_path / "second").mkdir()
    second = Child(mosquitto, tmp_path, said_in=tmp_path / "second").start()
    assert second.process.wait(60) == 2
    assert f"another logger (process {child.process.pid}) is writing here; stop it first" in second.said
    assert "Traceback" not in second.said
    with Publisher(mosquitto) as plant:
        plant.send([reading(number) for number in range(500)])
        child.wait(lambda: not missing(child.store, plant.sent[-1:]), "that the first one goes on")
    assert child.stop() == 0
    assert problems(child.store, keys(plant.sent), keys(plant.sent)) == []
    third = child.start()  # the lock is free again
    third.wait_running()
    assert third.stop() == 0


@pytest.fixture
def damaged(child: Child) -> Path:
    """Three sealed hours of two points, and the bytes of one of the chunks broken in the file."""
    with Store.open(child.store, writer=True) as store:
        for point in ("south/air-temperature", "south/humidity"):
            store.readings.append(
                [Reading(point, H + n * MINUTE, H + n * MINUTE, f"{20 + n / 100}", "degC", 20 + n / 100, 1) for n in range(180)]
            )
        store.readings.seal(H + 3 * HOUR)
        [(chunk,)] = store._database.rows("SELECT bytes FROM chunk WHERE id = 2")
        store._database.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    path = child.store / "booth.sqlite"
    data = bytearray(path.read_bytes())
    place = data.index(chunk[-64:]) + 10
    data[place : place + 8] = bytes(8)
    path.write_bytes(data)
    return child.store


def test_a_damaged_chunk_is_named_and_the_rest_served(damaged: Path, child: Child, mosquitto: MosquittoBroker) -> None:
    said = booth("store", "--check", "--json", store=damaged)
    assert said.code == 1 and "Traceback" not in said.err
    assert [one["count"] for one in said.json["lost"]] == [60] and said.json["sealed_readings"] == 300
    with Store.open(damaged) as store:
        found = [sum(1 for _ in store.readings.rows(f"south/{name}", 0, 2**62)) for name in ("air-temperature", "humidity")]
    assert sorted(found) == [120, 180]
    child.start()
    child.wait(lambda: subscribed(mosquitto), "the subscription")
    with Publisher(mosquitto) as plant:
        plant.send([reading(number) for number in range(100)])
        child.wait(lambda: not missing(child.store, plant.sent), "that logging goes on")
    assert child.stop() == 0
    assert "Traceback" not in child.said


def test_a_file_that_is_no_store_any_more_stops_the_logger_in_words(child: Child) -> None:
    child.store.mkdir()
    (child.store / "booth.sqlite").write_bytes(b"\x00garbage" * 4000)
    child.start()
    assert child.process.wait(60) == 2
    assert "it is not an SQLite database; move it away" in child.said and "Traceback" not in child.said
