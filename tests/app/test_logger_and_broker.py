"""The logger as a process of its own, with a real broker: killed, and with a disk that is full. Nothing acknowledged is lost."""

from __future__ import annotations

import json
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import paho.mqtt.client as paho
from plants import CONFIG

from booth.store import Store
from booth.times import SECOND, format_time
from tests.broker import MosquittoBroker

TOPIC = "shop/south/air-temperature"
PATIENCE_S = 30


class Publisher:
    """Counts what the broker has taken over from it: from then on it must not be lost."""

    def __init__(self, broker: MosquittoBroker) -> None:
        self.acknowledged: set[int] = set()
        self._sent: dict[int, int] = {}
        self._client = paho.Client(paho.CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
        self._client.on_publish = lambda _client, _data, mid, *_: self.acknowledged.add(self._sent[mid])
        self._client.max_inflight_messages_set(100)
        self._client.connect(broker.host, broker.port)
        self._client.loop_start()

    def send(self, numbers: range, begin: int) -> None:
        """One reading for each number; its value is the number, so that each can be told from the others."""
        for number in numbers:
            body = {"time": format_time(begin + number * 1000), "value": round(number / 100, 2), "unit": "degC"}
            info = self._client.publish(TOPIC, json.dumps(body), qos=1)
            self._sent[info.mid] = number

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


@contextmanager
def publisher(broker: MosquittoBroker) -> Iterator[Publisher]:
    one = Publisher(broker)
    try:
        yield one
    finally:
        one.close()


def start(broker: MosquittoBroker, folder: Path, largest_file: int | None = None) -> subprocess.Popen:
    """`booth run`; `largest_file` in bytes stands in for a full disk."""

    def limit() -> None:
        if largest_file is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (largest_file, resource.RLIM_INFINITY))

    command = [sys.executable, "-m", "booth", "run", "--no-board", "--broker", f"{broker.host}:{broker.port}"]
    command += ["--store", str(folder / "store"), "--config", str(CONFIG)]
    with (folder / "said").open("ab") as said:
        return subprocess.Popen(command, stdout=said, stderr=said, preexec_fn=limit)


def wait(until: Callable[[], object], what: str, folder: Path) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        if until():
            return
        time.sleep(0.05)
    raise AssertionError(f"{what} didn't happen in {PATIENCE_S} s; the logger said: {said(folder)[-3000:]}")


def said(folder: Path) -> str:
    return (folder / "said").read_text(encoding="utf-8", errors="replace") if (folder / "said").exists() else ""


def kept(folder: Path) -> list[int]:
    """The numbers that are in the store, each as often as it is there."""
    if not (folder / "store" / "booth.sqlite").is_file():
        return []
    with Store.open(folder / "store") as store:
        return [round(float(row.sent) * 100) for row in store.readings.rows("south/air-temperature", 0, 2**62)]


def stopped(process: subprocess.Popen) -> int:
    process.send_signal(signal.SIGTERM)
    return process.wait(PATIENCE_S)


def subscribed(broker: MosquittoBroker) -> bool:
    return "Sending SUBACK to tern-valley-booth-logger" in broker.log.read_text(encoding="utf-8", errors="replace")


def now_us() -> int:
    return time.time_ns() // 1000


def test_killed_three_times_it_keeps_each_acknowledged_reading_exactly_once(mosquitto: MosquittoBroker, tmp_path: Path) -> None:
    begin, count = now_us() - 60 * SECOND, 6000
    process = start(mosquitto, tmp_path)
    try:
        wait(lambda: subscribed(mosquitto), "the subscription", tmp_path)
        with publisher(mosquitto) as plant:
            for part in range(3):
                plant.send(range(part * count // 4, (part + 1) * count // 4), begin)
                before = len(kept(tmp_path))
                wait(lambda before=before: len(kept(tmp_path)) > before, "a commit", tmp_path)
                process.kill()
                process.wait()
                process = start(mosquitto, tmp_path)
            plant.send(range(3 * count // 4, count), begin)
            wait(lambda: len(plant.acknowledged) == count, "the broker's taking over", tmp_path)
            wait(lambda: len(set(kept(tmp_path))) == count, "that every reading is kept", tmp_path)
        assert stopped(process) == 0
    finally:
        process.kill()
    assert sorted(kept(tmp_path)) == sorted(plant.acknowledged) == list(range(count))
    with Store.open(tmp_path / "store") as store:
        assert store.journal.verify().ok
        assert store.quarantine.counts() == {}
        assert len(list(store.journal.entries(kinds=["logger-start"]))) >= 2
        assert list(store.journal.entries(kinds=["gap"])) == []  # the broker's session outlived every death


def test_with_a_full_disk_it_says_so_acknowledges_nothing_and_goes_on_when_there_is_space(
    mosquitto: MosquittoBroker, tmp_path: Path
) -> None:
    begin, count = now_us() - 60 * SECOND, 8000
    process = start(mosquitto, tmp_path, largest_file=300_000)
    try:
        wait(lambda: subscribed(mosquitto), "the subscription", tmp_path)
        with publisher(mosquitto) as plant:
            plant.send(range(count), begin)
            wait(lambda: "nothing is being recorded" in said(tmp_path), "that it says so", tmp_path)
            wait(lambda: len(plant.acknowledged) == count, "the broker's taking over", tmp_path)
            assert process.poll() is None
            assert len(set(kept(tmp_path))) < count
            assert said(tmp_path).count("nothing is being recorded") <= 3  # and not twice a second
            resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
            wait(lambda: len(set(kept(tmp_path))) == count, "that every reading is kept", tmp_path)
            wait(lambda: "recording again" in said(tmp_path), "that it says so", tmp_path)
        assert stopped(process) == 0
    finally:
        process.kill()
    assert sorted(kept(tmp_path)) == list(range(count))
    with Store.open(tmp_path / "store") as store:
        assert store.journal.verify().ok
