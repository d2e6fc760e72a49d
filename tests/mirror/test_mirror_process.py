"""The mirror beside a logger, in its own process: it costs logging nothing, and comes and goes with it."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from booth.mirror import mirroring
from booth.mirror.memory import Memory
from booth.mirror.process import MirrorProcess
from booth.shop.problems import ConfigError
from booth.shop.shop import Shop
from booth.store import Store
from tests.mirror.desk import fill, finding, held, mirrored, settings_for
from tests.mirror.peers import Influxd
from tests.mirror.shim import TOKEN, Shim
from tests.mirror.test_mirror_settings import token_file, with_mirror
from tests.shop.demo_shop import shop


def wait_until(true: Callable[[], bool], seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it took too long"
        time.sleep(0.05)


def mirrored_by(url: str, folder: Path) -> Shop:
    plain = with_mirror(token_file=token_file(folder, 0o600, TOKEN))
    return replace(plain, site=plain.site.model_copy(update={"mirror": plain.site.mirror.model_copy(update={"url": url})}))


def test_beside_a_logger(store: Store, shim: Shim, influxd: Influxd, tmp_path: Path) -> None:
    fill(store, range(1000))
    with mirroring(mirrored_by(shim.url, tmp_path), tmp_path / "store"):
        wait_until(lambda: mirrored(influxd) == held(store))
        fill(store, range(1000, 1050))
        wait_until(lambda: mirrored(influxd) == held(store))
    Memory(tmp_path / "store", writer=True).close()  # nobody holds it any more


def test_nothing_is_started_where_there_is_no_mirror(store: Store, tmp_path: Path) -> None:
    with mirroring(shop(), tmp_path / "store"):
        assert list((tmp_path / "store").glob("mirror*")) == []


def test_a_bad_token_is_told_before_anything_starts(store: Store, tmp_path: Path) -> None:
    bad = with_mirror(token_file=token_file(tmp_path, 0o644))
    with pytest.raises(ConfigError, match="others"), mirroring(bad, tmp_path / "store"):
        raise AssertionError("it went on")


def test_killed_and_started_again(
    store: Store, shim: Shim, influxd: Influxd, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("booth.child.RESTART_S", 0.1)
    fill(store, range(1000))
    process = MirrorProcess(settings_for(shim.url), tmp_path / "store")
    process.start()
    try:
        for beginning in (1000, 2000, 3000):
            wait_until(lambda: len(shim.answers) > 0 and running(process.pid))
            killed = process.pid
            os.kill(killed, signal.SIGKILL)
            fill(store, range(beginning, beginning + 1000))
            wait_until(lambda: process.pid != killed)  # noqa: B023 -- waited for in this round
            shim.answers.clear()
        wait_until(lambda: mirrored(influxd) == held(store))
    finally:
        process.stop()


class Silent:
    """A server that takes every connection and never answers."""

    def __init__(self) -> None:
        self._socket = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._socket.getsockname()[1]}"
        self._open: list[socket.socket] = []
        self.asked = threading.Event()
        threading.Thread(target=self._take, daemon=True).start()

    def _take(self) -> None:
        while True:
            try:
                connection, _ = self._socket.accept()
            except OSError:
                return
            self._open.append(connection)
            connection.recv(100)
            self.asked.set()

    @property
    def hanging(self) -> bool:
        """Whether whoever asked is still waiting for its first answer."""
        self._open[0].setblocking(False)
        try:
            while chunk := self._open[0].recv(1 << 20):
                del chunk
            return False  # it gave up
        except BlockingIOError:
            return True

    def close(self) -> None:
        self._socket.close()
        for connection in self._open:
            connection.close()


@pytest.fixture
def silent() -> Iterator[Silent]:
    opened = Silent()
    yield opened
    opened.close()


def test_a_stalled_mirror_costs_the_logger_nothing(
    store: Store, silent: Silent, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the mirror hangs in a write, readings and entries are committed: it holds no lock on the store."""
    monkeypatch.setattr("booth.child.STOP_S", 0.2)
    fill(store, range(2000))
    process = MirrorProcess(settings_for(silent.url), tmp_path / "store")
    process.start()
    try:
        assert silent.asked.wait(20)
        before = time.monotonic()
        for second in range(2000, 2200):
            fill(store, [second])
            store.journal.append([finding(f"TV-{second}")])
        took = time.monotonic() - before
        assert silent.hanging, f"the mirror didn't hang all the time (200 commits took {took:.1f} s), so this shows nothing"
    finally:
        process.stop()
    assert len(held(store)) == 6600


def test_stopping_does_not_wait_for_a_server_that_hangs(
    store: Store, silent: Silent, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("booth.child.STOP_S", 0.2)
    fill(store, range(10))
    process = MirrorProcess(settings_for(silent.url), tmp_path / "store")
    process.start()
    assert silent.asked.wait(20)
    assert silent.hanging
    process.stop()
    Memory(tmp_path / "store", writer=True).close()


_LOGGER = """\
import sys, time
from pathlib import Path
from booth.mirror.process import MirrorProcess
from tests.mirror.desk import settings_for

if __name__ == "__main__":
    process = MirrorProcess(settings_for(sys.argv[2]), Path(sys.argv[1]))
    process.start()
    while process.pid is None:
        time.sleep(0.01)
    print(process.pid, flush=True)
    time.sleep(60)
"""


def test_it_ends_when_the_logger_is_killed(store: Store, shim: Shim, influxd: Influxd, tmp_path: Path) -> None:
    fill(store, range(10))
    script = tmp_path / "logger.py"
    script.write_text(_LOGGER, encoding="utf-8")
    root = Path(__file__).parents[2]
    command = [sys.executable, str(script), str(tmp_path / "store"), shim.url]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONPATH": str(root)}) as logger:
        child = int(logger.stdout.readline())
        wait_until(lambda: mirrored(influxd) == held(store))
        logger.kill()
    wait_until(lambda: not running(child))


def running(pid: int) -> bool:
    """A process that nobody has waited for yet is over too."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False
