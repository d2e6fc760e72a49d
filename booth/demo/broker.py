"""Mosquitto as a child process on a free loopback port."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from pathlib import Path

START_S = 5.0

CONFIGURATION = """\
listener {port} 127.0.0.1
allow_anonymous true
persistence false
max_queued_messages 0
# Small packets each way in lockstep: without this each would wait for the other side's delayed acknowledgement.
set_tcp_nodelay true
"""


def find_mosquitto() -> str | None:
    """Its path; Debian puts servers where ordinary users don't look."""
    return shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin:/usr/local/sbin")


class Mosquitto:
    """A broker for as long as the `with` lasts."""

    def __init__(self, program: str, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.port = _free_port()
        self._configuration = folder / "mosquitto.conf"
        self._configuration.write_text(CONFIGURATION.format(port=self.port), encoding="utf-8")
        self._log = folder / "mosquitto.log"
        self._program = program

    def __enter__(self) -> Mosquitto:
        with self._log.open("wb") as log:
            self._process = subprocess.Popen([self._program, "-c", str(self._configuration)], stdout=log, stderr=log)
        deadline = time.monotonic() + START_S
        while time.monotonic() < deadline and self._process.poll() is None:
            with socket.socket() as probe:
                probe.settimeout(0.2)
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return self
            time.sleep(0.02)
        self.__exit__()
        from booth.cli.app import UsageError

        raise UsageError(f"Mosquitto did not start on port {self.port}; see {self._log}, or write --no-broker")

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        try:
            self._process.wait(5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]
