"""The board beside the logger: whichever dies, the other goes on."""

from __future__ import annotations

import os
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from booth.demo.board import demo_board
from booth.shop.problems import ConfigError
from booth.store import Store
from booth.store.store import LOCK_FILE
from booth.web import patience
from booth.web.process import Start, boarding, serve_until
from booth.web.serving import check, listening
from tests.app.plants import demo_shop
from tests.readers.certificates import Authority, Signed
from tests.web.conftest import ADDRESS, TestClient

CONFIG = Path(__file__).parents[2] / "config"
PATIENCE_S = 120.0  # a busy machine is slow, not wrong


def free_port() -> int:
    with listening("127.0.0.1", 0) as probe:
        return probe.getsockname()[1]


def until(what: Callable[[], object]) -> object:
    """What it returns, as soon as it returns something."""
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        found = what()
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError(f"did not come to be: {what}")


def healthy(port: int) -> bool:
    try:
        return httpx.get(f"http://127.0.0.1:{port}/health", timeout=10).status_code == 200
    except httpx.HTTPError:
        return False


@pytest.fixture
def settings():
    return demo_shop().site.board.model_copy(update={"port": free_port()})


def test_it_is_started_again_when_it_dies_and_ends_with_the_block(store_folder: Path, settings) -> None:
    with boarding(demo_shop(), store_folder, settings, ticks=True) as child:
        until(lambda: healthy(settings.port))
        first = child.pid
        os.kill(first, signal.SIGKILL)
        until(lambda: child.pid != first and healthy(settings.port))
        last = child.pid
    assert not Path(f"/proc/{last}").exists() and not healthy(settings.port)


RUN = """
import sys, time
from pathlib import Path
from booth.store import Store
from booth.web import patience
from booth.web.process import boarding
from tests.app.plants import demo_shop

folder, port = Path(sys.argv[1]), int(sys.argv[2])
settings = demo_shop().site.board.model_copy(update={"port": port})
if __name__ == "__main__":
    with Store.open(folder, writer=True), boarding(demo_shop(), folder, settings, ticks=True):
        print("up", flush=True)
        time.sleep(600)
"""


def test_a_killed_logger_leaves_its_board_and_the_next_brings_another(store_folder: Path, settings, tmp_path: Path) -> None:
    """With a stand-in for the logger that holds its lock, as `booth run` does."""
    script = tmp_path / "logger.py"
    script.write_text(RUN, encoding="utf-8")
    command = [sys.executable, str(script), str(store_folder), str(settings.port)]
    environment = os.environ | {"PYTHONPATH": str(CONFIG.parent)}
    one = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE)
    other = None
    try:
        until(lambda: healthy(settings.port))
        old = until(lambda: child_of(one.pid))
        one.kill()
        one.wait()
        assert healthy(settings.port) and Path(f"/proc/{old}").exists()
        other = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE)
        until(lambda: is_over(old))
        until(lambda: healthy(settings.port))
        assert (store_folder / LOCK_FILE).read_text().strip() == str(other.pid)
    finally:
        for process in (one, other):
            if process is not None:
                for pid in children(process.pid):
                    os.kill(pid, signal.SIGKILL)
                process.kill()
                process.wait()
                process.stdout.close()


def is_over(pid: int) -> bool:
    """Gone, or a zombie that nobody has asked for yet."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


def children(pid: int) -> list[int]:
    """Of all its threads: the board is started by the one that keeps it."""
    try:
        return [int(one) for task in Path(f"/proc/{pid}/task").iterdir() for one in (task / "children").read_text().split()]
    except OSError:
        return []


def child_of(pid: int) -> int | None:
    """The board: the child of a logger that was spawned to run ours, not the one that tracks its resources."""
    for one in children(pid):
        if b"spawn_main" in Path(f"/proc/{one}/cmdline").read_bytes():
            return one
    return None


def test_it_waits_for_its_port(store_folder: Path, settings) -> None:
    holder = listening("127.0.0.1", settings.port)
    with boarding(demo_shop(), store_folder, settings, ticks=True) as child:
        until(lambda: child.pid)
        assert not httpx_answers(settings.port)
        holder.close()
        until(lambda: healthy(settings.port))


def httpx_answers(port: int) -> bool:
    """Whether whoever listens there answers; the holder of the port only takes connections."""
    with socket.create_connection(("127.0.0.1", port)) as asked:
        asked.settimeout(0.2)
        asked.sendall(b"GET /health HTTP/1.0\r\n\r\n")
        try:
            return bool(asked.recv(1))
        except TimeoutError:
            return False


def test_the_board_alone_says_where_it_is_and_how_to_begin(store_folder: Path, settings) -> None:
    command = [sys.executable, "-m", "booth", "board", "--config", str(CONFIG), "--store", str(store_folder)]
    process = subprocess.Popen([*command, "--port", str(settings.port)], stdout=subprocess.PIPE, text=True)
    try:
        until(lambda: healthy(settings.port))
        second = subprocess.run([*command, "--port", str(settings.port)], capture_output=True, text=True, timeout=PATIENCE_S)
        assert second.returncode == 2 and f"port {settings.port}" in second.stderr and "Traceback" not in second.stderr
    finally:
        process.send_signal(signal.SIGINT)
        said, _ = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0 and said.splitlines()[0] == f"the board: http://127.0.0.1:{settings.port}"
    link = said.splitlines()[1].rpartition(" ")[2]
    assert link.startswith(f"http://127.0.0.1:{settings.port}/first/") and said.rstrip().endswith("stopped")


def test_a_mistyped_store_is_an_error_and_not_an_empty_board(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "booth", "board", "--config", str(CONFIG), "--store", str(tmp_path / "nothing")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S)
    assert done.returncode == 2 and "there is no store here" in done.stderr


@contextmanager
def served(store_folder: Path, **changes: object) -> Iterator[int]:
    """A board in this process, on a port of its own."""
    ended = threading.Event()
    bound = listening("127.0.0.1", 0)
    settings = demo_shop().site.board.model_copy(update=changes)
    start = Start(dict(demo_shop().files), store_folder, settings, ticks=True)
    server = threading.Thread(target=serve_until, args=(start, ended.is_set, bound))
    server.start()
    try:
        yield bound.getsockname()[1]
    finally:
        ended.set()
        server.join(PATIENCE_S)
        assert not server.is_alive()


def test_slow_clients_are_let_go_and_others_are_answered(store_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Slowloris (CWE-400): heads that never end, and connections that say nothing, while a screen asks."""
    monkeypatch.setattr(patience, "HEAD_S", 0.3)
    with served(store_folder) as port:
        until(lambda: healthy(port))
        slow = [socket.create_connection(("127.0.0.1", port)) for _ in range(20)]
        for number, one in enumerate(slow):
            one.settimeout(PATIENCE_S)
            one.sendall((b"", b"GET / HT", b"GET / HTTP/1.1\r\nhost: 127.0.0.1\r\nx: ")[number % 3])
        assert healthy(port)
        for one in slow:
            assert one.recv(1000) == b""  # closed by the board, or this waits until the test gives up
            one.close()


def test_a_head_without_end_is_refused(store_folder: Path) -> None:
    with served(store_folder) as port, socket.create_connection(("127.0.0.1", port)) as large:
        large.settimeout(PATIENCE_S)
        large.sendall(b"GET / HTTP/1.1\r\nx: " + b"y" * 20_000)
        assert large.recv(1000).startswith(b"HTTP/1.1 400")


@pytest.fixture
def signed(tmp_path: Path) -> Signed:
    found = Authority(tmp_path, "authority").sign("board", "subjectAltName=IP:127.0.0.1")
    found.key.chmod(0o600)
    return found


def test_it_speaks_tls_itself(store_folder: Path, signed: Signed, tmp_path: Path) -> None:
    changes = {"cert_file": str(signed.cert), "key_file": str(signed.key)}
    check(demo_shop().site.board.model_copy(update=changes))
    trusting = ssl.create_default_context(cafile=tmp_path / "authority.pem")
    with served(store_folder, **changes) as port:
        answer = httpx.get(f"https://127.0.0.1:{port}/sign-in", verify=trusting, timeout=PATIENCE_S)
        assert answer.status_code == 200 and "strict-transport-security" in answer.headers
        assert "Secure" in answer.headers["set-cookie"] and answer.headers["set-cookie"].startswith("__Host-")
        with pytest.raises(httpx.HTTPError):
            httpx.get(f"http://127.0.0.1:{port}/sign-in", timeout=PATIENCE_S)


def test_a_key_that_others_read_or_that_is_another_is_refused(signed: Signed, tmp_path: Path) -> None:
    settings = demo_shop().site.board.model_copy(update={"cert_file": str(signed.cert), "key_file": str(signed.key)})
    signed.key.chmod(0o640)
    with pytest.raises(ConfigError, match="chmod 600"):
        check(settings)
    other = Authority(tmp_path, "other").sign("board")
    other.key.chmod(0o600)
    with pytest.raises(ConfigError, match="board.cert_file"):
        check(settings.model_copy(update={"key_file": str(other.key)}))


def test_the_demonstration_has_one_beside_it(tmp_path: Path) -> None:
    """Before anything is logged, and whatever else uses the usual port."""
    with demo_board(demo_shop(), tmp_path) as settings:
        until(lambda: healthy(settings.port))
    assert not healthy(settings.port)


def test_a_store_that_goes_away_is_said(store_folder: Path, board_app) -> None:
    browser = TestClient(board_app, base_url=ADDRESS)
    assert browser.get("/health").status_code == 200
    (store_folder / "booth.sqlite").rename(store_folder / "elsewhere.sqlite")
    assert browser.get("/health").status_code == 503
    (store_folder / "elsewhere.sqlite").rename(store_folder / "booth.sqlite")
    with Store.open(store_folder) as store:
        assert browser.get("/health").json()["journal_entries"] == store.journal.head().entries
