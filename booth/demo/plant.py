"""The simulated plant: a process of its own that publishes like any plant, or the same messages without a broker."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections import deque
from pathlib import Path

from booth.cli.app import UsageError
from booth.readers.received import Received
from booth.times import format_time


class PlantProcess:
    """`python -m simulators` in lockstep with the logger."""

    def __init__(self, port: int, seed: int, truth: Path) -> None:
        command = [sys.executable, "-m", "simulators", "--lockstep", "--host", "127.0.0.1", "--port", str(port)]
        command += ["--seed", str(seed), "--out", str(truth)]
        self._process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace")
        self._said = ""

    def wait(self) -> None:
        """Until the plant has ended."""
        self._said, _ = self._process.communicate()

    def stop(self) -> None:
        """End it early, if it still runs."""
        if self._process.poll() is None:
            self._process.terminate()

    def check(self) -> None:
        """Raises UsageError when the plant ended badly, with what it said."""
        if self._process.returncode:
            raise UsageError(f"the simulated plant stopped early: {self._said.strip() or self._process.returncode}")


class InProcessPlant:
    """A reader that plays the plant's messages, and a notifier that its people hear."""

    def __init__(self, seed: int, truth: Path, stopping: threading.Event) -> None:
        from simulators.plant import Plant
        from simulators.tern_valley import TERN_VALLEY
        from simulators.truth import Truth

        self._plant = Plant(seed, TERN_VALLEY)
        self._truth, self._path = Truth(self._plant), truth
        self._times = iter(list(self._plant.times()))
        self._waiting: deque[Received] = deque()
        self._stopping = stopping

    def get(self, timeout: float) -> Received | None:
        if not self._waiting:
            self._next_tick()
        return self._waiting.popleft() if self._waiting else None

    def acknowledge(self, received: Received) -> None:
        """Nobody waits for it."""

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        """The answer to a tick: nothing to do, since the next one is made when it is asked for."""

    def alarm(self, topic: str, message: dict) -> None:
        self._plant.acknowledger.heard(topic, None if message["state"] == "normal" else message)

    def _next_tick(self) -> None:
        from simulators.truth import write

        tick = next(self._times, None)
        if tick is None:
            write(self._truth, self._path)
            self._stopping.set()
            return
        messages = [*self._plant.tick(tick), ("shop/clock/tick", {"time": format_time(tick)})]
        self._truth.record()
        self._waiting.extend(Received(topic, json.dumps(body).encode(), tick, 1, None, False) for topic, body in messages)
