"""A real Mosquitto on a free loopback port, for tests: started, killed, started again on what it had saved."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from pathlib import Path

_CONFIG = """\
listener {port} 127.0.0.1
allow_anonymous true
persistence true
persistence_location {folder}/
autosave_interval 1
max_queued_messages 0
log_dest file {folder}/broker.log
log_type all
"""


class MosquittoBroker:
    """`folder` keeps its configuration, its log and what it saves. `extra` is appended to the configuration."""

    def __init__(self, folder: Path, extra: str = "") -> None:
        program = shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin:/usr/bin:/usr/local/bin")
        if program is None:
            raise AssertionError("there is no Mosquitto, so this test can't run; install Debian's package: run 'make setup'")
        self.host, self.port = "127.0.0.1", _free_port()
        self.log = folder / "broker.log"
        self._config = folder / "mosquitto.conf"
        if os.geteuid() == 0:  # it would else become a user who can't write to the folder
            extra += "user root\n"
        self._config.write_text(_CONFIG.format(port=self.port, folder=folder) + extra, encoding="utf-8")
        self._command = [program, "-c", str(self._config)]
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> MosquittoBroker:
        """Returns when it accepts connections."""
        self._process = subprocess.Popen(self._command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        deadline = time.monotonic() + 10
        while time.monotonic() < deadline and self._process.poll() is None:
            try:
                socket.create_connection((self.host, self.port), timeout=1).close()
                return self
            except OSError:
                time.sleep(0.02)
        self.stop()
        log = self.log.read_text(encoding="utf-8", errors="replace") if self.log.exists() else "nothing in its log"
        raise AssertionError(f"Mosquitto did not start on port {self.port}: {log[-2000:]}")

    def kill(self) -> None:
        """As a power cut would: SIGKILL."""
        self._process.kill()
        self._process.wait()

    def restart(self) -> MosquittoBroker:
        self.kill()
        return self.start()

    def stop(self) -> None:
        """SIGTERM; it saves everything."""
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            try:
                self._process.wait(10)
            except subprocess.TimeoutExpired:
                self.kill()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]
