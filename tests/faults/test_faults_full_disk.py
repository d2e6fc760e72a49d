"""A disk that is full for real: a small tmpfs, mounted for the test, and filled to its last byte under a running logger.

Where mounting isn't permitted the kernel's limit on the size of a file stands in (SQLite then meets EFBIG instead of ENOSPC), and
the test says so in its output. It runs either way.
"""

from __future__ import annotations

import resource
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from booth.readers.mqtt import Broker
from booth.readers.retained import retained_topics
from booth.store import Store
from tests.app.plants import CONFIG
from tests.broker import MosquittoBroker
from tests.cli.commands import booth
from tests.faults.child import Child, subscribed
from tests.faults.compare import keys, missing, problems
from tests.faults.plant import Publisher, reading

SIZE = 3_000_000
COUNT = 6000
TOPIC = "shop/logger/alarm/recording"

pytestmark = pytest.mark.xdist_group("full disk")


class Disk:
    """A small one. `fill` takes all that is free, `free` gives it back."""

    def __init__(self, folder: Path) -> None:
        self.folder, self._filler = folder, folder / "filler"
        folder.mkdir()
        command = ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(folder)]
        self.is_real = subprocess.run(command, capture_output=True).returncode == 0
        print("a tmpfs" if self.is_real else "mounting isn't permitted: RLIMIT_FSIZE stands in for a full disk")

    def fill(self, child: Child) -> None:
        if not self.is_real:
            size = max(path.stat().st_size for path in child.store.iterdir())
            return resource.prlimit(child.process.pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
        with self._filler.open("wb", buffering=0) as file:
            for chunk in (65536, 4096, 1):
                try:
                    while file.write(bytes(chunk)) == chunk:
                        pass
                except OSError:
                    continue

    def free(self, child: Child) -> None:
        if not self.is_real:
            return resource.prlimit(child.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        self._filler.unlink()

    def close(self) -> None:
        if self.is_real:
            subprocess.run(["umount", "--lazy", str(self.folder)], check=True)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    one = Disk(tmp_path / "disk")
    yield one
    one.close()


def retained(mosquitto: MosquittoBroker) -> set[str]:
    return set(retained_topics(Broker(mosquitto.host, mosquitto.port), "shop/+/alarm/+"))


def acknowledged(broker: MosquittoBroker) -> int:
    return broker.log.read_text(encoding="utf-8", errors="replace").count("Received PUBACK from tern-valley-booth-logger")


def test_it_says_so_acknowledges_nothing_and_goes_on(mosquitto: MosquittoBroker, tmp_path: Path, disk: Disk) -> None:
    child = Child(mosquitto, disk.folder, said_in=tmp_path).start()
    try:
        child.wait(lambda: subscribed(mosquitto), "the subscription")
        with Publisher(mosquitto) as plant:
            plant.send(first := [reading(number) for number in range(COUNT // 3)])
            child.wait(lambda: not missing(child.store, first[-1:]), "that the beginning is kept")
            disk.fill(child)
            plant.send([reading(number) for number in range(COUNT // 3, COUNT)])
            child.wait(lambda: "nothing is being recorded" in child.said, "that it says so")
            child.wait(lambda: plant.is_done, "the broker's taking over")
            time.sleep(1)
            acknowledged_first = acknowledged(mosquitto)  # a small batch may still find room in the write-ahead log
            assert acknowledged_first <= kept(child) < COUNT
            assert child.process.poll() is None
            assert "ALARM logger, unacknowledged: nothing is being recorded" in child.said
            child.wait(lambda: TOPIC in retained(mosquitto), "the alarm on the broker")
            if disk.is_real:
                _by_hand_it_is_refused_in_words(child)
            assert child.said.count("nothing is being recorded") <= 3  # and not twice a second
            disk.free(child)
            child.wait(lambda: "recording again" in child.said, "that it says so")
            child.wait(lambda: kept(child) == COUNT, "that every reading is kept")
            child.wait(lambda: TOPIC not in retained(mosquitto), "that the alarm is taken back")
        assert child.stop() == 0
        assert problems(child.store, keys(plant.sent), keys(plant.sent)) == []
        assert "Traceback" not in child.said
    finally:
        child.kill()


def test_killed_on_a_full_disk_it_comes_back_when_there_is_space(mosquitto: MosquittoBroker, tmp_path: Path, disk: Disk) -> None:
    child = Child(mosquitto, disk.folder, said_in=tmp_path).start()
    try:
        child.wait(lambda: subscribed(mosquitto), "the subscription")
        with Publisher(mosquitto) as plant:
            disk.fill(child)
            plant.send([reading(number) for number in range(COUNT)])
            child.wait(lambda: "nothing is being recorded" in child.said, "that it says so")
            child.wait(lambda: plant.is_done, "the broker's taking over")
            child.kill()
            if disk.is_real:  # a logger that is started on a full disk waits for space, or says why it can't start
                child.start()
                time.sleep(2)
                child.kill()
                disk.free(child)
            child.start()
            child.wait(lambda: (child.store / "booth.sqlite").is_file() and kept(child) == COUNT, "that every reading is kept")
        assert child.stop() == 0
        assert problems(child.store, keys(plant.sent), keys(plant.sent)) == []
        assert "Traceback" not in child.said
    finally:
        child.kill()


def kept(child: Child) -> int:
    with Store.open(child.store) as store:
        return sum(held.hot + held.sealed for held in store.readings.held())


def _by_hand_it_is_refused_in_words(child: Child) -> None:
    """An event by hand is kept (there may be room in the write-ahead log) or refused, and then in a sentence."""
    before = entries(child)
    said = booth("event", "note", "vehicle=V-1", "text=" + "x" * 9000, "--by", "badge-3", config=CONFIG, store=child.store)
    assert "Traceback" not in said.err
    if said.code == 0:
        assert entries(child) > before
    else:
        assert said.code == 2 and "free" in said.err, said


def entries(child: Child) -> int:
    with Store.open(child.store) as store:
        return store.journal.head().entries
