"""`booth run` as a process of its own: started, killed as a power cut would, stopped as a person would."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from tests.app.plants import CONFIG
from tests.broker import MosquittoBroker

PATIENCE_S = 90
_RUNS = "stop with Ctrl-C"


class Child:
    """A logger on one store; each `start` is a new process. What all of them said is kept in one file."""

    def __init__(self, broker: MosquittoBroker, folder: Path, clock: str = "system", said_in: Path | None = None) -> None:
        self.store, self._said = folder / "store", (said_in or folder) / "said"
        self._command = [sys.executable, "-m", "booth", "run", "--no-board", "--clock", clock]
        self._command += ["--broker", f"{broker.host}:{broker.port}", "--store", str(self.store), "--config", str(CONFIG)]
        self.process: subprocess.Popen[bytes] | None = None
        self._ran_before = 0

    def start(self, **options: object) -> Child:
        self._ran_before = self.said.count(_RUNS)
        with self._said.open("ab") as said:
            self.process = subprocess.Popen(self._command, stdout=said, stderr=said, **options)
        return self

    def kill(self) -> None:
        """SIGKILL: it gets no chance to do anything more."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()

    def stop(self) -> int:
        """SIGTERM; the exit code."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(PATIENCE_S)

    @property
    def said(self) -> str:
        return self._said.read_text(encoding="utf-8", errors="replace") if self._said.exists() else ""

    def wait(self, until: Callable[[], object], what: str) -> None:
        """Until something holds; AssertionError with what the logger said when it never does."""
        deadline = time.monotonic() + PATIENCE_S
        while not until():
            assert time.monotonic() < deadline, f"{what} didn't happen in {PATIENCE_S} s; it said: {self.said[-3000:]}"
            time.sleep(0.05)

    def wait_running(self) -> None:
        """Until the process that was started last says that it logs."""
        self.wait(lambda: self.said.count(_RUNS) > self._ran_before, "its start")


def subscribed(broker: MosquittoBroker) -> bool:
    """Whether the broker has given a logger its session: from then on it queues for it."""
    return "Sending SUBACK to tern-valley-booth-logger" in broker.log.read_text(encoding="utf-8", errors="replace")
