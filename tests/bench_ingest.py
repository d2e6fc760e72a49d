"""Figures of the way in: a real Mosquitto, the logger in a process of its own, readings as JSON over QoS 1 (bench_plant).

Drain: both clients find the same backlog in sessions of their own, one after the other, in several rounds; the ratio is the
median over the rounds, so that whatever else the machine does touches both. Live: readings at an even pace, with a lull of a
second in five; then twice as many, while booths lose their air and get it back; and the logger's memory meanwhile.

Alone: `python -m tests.bench ingest`; with `--long` the memory is watched for an hour instead of two minutes.
"""

from __future__ import annotations

import json
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import bench_plant as plant
import numpy as np
from bench import Figure, resident_mb

from booth.demo.broker import Mosquitto, find_mosquitto
from booth.times import HOUR, SECOND, parse_time

ROOT = Path(__file__).resolve().parents[1]
BACKLOG, ROUNDS = 20_000, 5
TICK_S = 0.01
PROMPT_MS = 250.0  # the goal for both waits
ALARM_EVERY_S, LOW_S, ALARMS = 0.4, 0.6, 250  # five booths take turns, so each has its air back before its next turn
MEMORY_MB = 300.0
FLAT = 2  # times what the readings of the vans that are judged take as two numbers of 8 bytes, kept for 30 hours
WARM_UP_S, WATCHED_S = 40, 80
LONG_WARM_UP_S, LONG_WATCHED_S = 300, 3300


def figures(long: bool = False) -> Iterator[Figure]:
    """All of them: about three minutes, or an hour and two minutes."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        config = plant.write_config(root / "config")
        yield from _drain(root, config)
        yield from _commit_waits(root, config)
        yield from _alarm_and_memory(root, config, *((LONG_WARM_UP_S, LONG_WATCHED_S) if long else (WARM_UP_S, WATCHED_S)))


class LoggerProcess:
    """bench_logger in a process of its own, logging into a store beside its notes."""

    def __init__(self, store: Path, config: Path, port: int, stop_after: int = 0) -> None:
        self._notes = store.with_suffix(".json")
        command = [sys.executable, "-m", "tests.bench_logger", config, store, "127.0.0.1", port, self._notes, stop_after]
        self.process = subprocess.Popen([str(word) for word in command], cwd=ROOT)

    def ended(self, seconds: float = 120) -> dict:
        """What it noted."""
        if self.process.wait(seconds):
            raise SystemExit(f"the logger ended with exit code {self.process.returncode}")
        return json.loads(self._notes.read_text(encoding="utf-8"))

    def stop(self) -> dict:
        self.process.send_signal(signal.SIGTERM)
        return self.ended()


def _broker(folder: Path) -> Mosquitto:
    program = find_mosquitto()
    if program is None:
        raise SystemExit("there is no Mosquitto to measure with; install Debian's package: run 'make setup'")
    return Mosquitto(program, folder)


def _drain(root: Path, config: Path) -> Iterator[Figure]:
    """Readings a second that are decoded, committed (synchronous=FULL) and then acknowledged, out of a backlog."""
    rounds = [_drained(root / f"drain-{number}", config) for number in range(ROUNDS)]
    bare, ours = (statistics.median(column) for column in zip(*rounds, strict=True))
    ratio = statistics.median(mine / other for other, mine in rounds)
    goal = "≥ 0.4 × a bare paho client"
    yield Figure("readings kept a second, of a backlog", ours, "/s", bare, ratio, goal, ratio >= 0.4)


def _drained(folder: Path, config: Path) -> tuple[float, float]:
    """(of the bare client, of the logger), on the same backlog."""
    folder.mkdir()
    with _broker(folder / "broker") as broker:
        for name in (plant.CLIENT, "bare"):
            plant.leave_session(name, broker.port)
        begin = plant.now_us() - 60 * SECOND
        messages = [*plant.opening(begin), *plant.backlog(BACKLOG, begin)]
        publisher = plant.Publisher(broker.port)
        publisher.send(messages)
        publisher.wait()
        publisher.close()
        bare = plant.bare_drain("bare", broker.port, len(messages))
        found = LoggerProcess(folder / "store", config, broker.port, len(messages)).ended()
    _all_kept(found, BACKLOG)
    return len(messages) / bare, len(messages) / found["seconds"]


def _commit_waits(root: Path, config: Path) -> Iterator[Figure]:
    """How long a reading waits from its arrival to its commit, at 500 a second with lulls."""
    with _Live(root / "waits", config) as live:
        live.publish(500, 30, lull=lambda second: second % 5 >= 4)
        found = live.stop()
    value = _quantile(found["waited_ms"], 0.99)
    goal = f"p99 ≤ {PROMPT_MS:g} ms"
    yield Figure("arrival to commit, 500/s and lulls", value, "ms", PROMPT_MS, value / PROMPT_MS, goal, value <= PROMPT_MS)


def _alarm_and_memory(root: Path, config: Path, warm_up_s: int, watched_s: int) -> Iterator[Figure]:
    """At 1,000 readings a second: from the reading to its alarm, both as a screen beside the broker sees them; and the memory."""
    rate, seconds = 1000, warm_up_s + watched_s
    with _Live(root / "alarms", config) as live:
        memory = _Memory(live.logger.process.pid)
        live.publish(rate, seconds, low=_Trouble(live.screen))
        memory.stop()
        live.stop()
        came = live.screen.waits_ms
    waits = [*came, *[LOW_S * 1000] * (ALARMS - len(came))]  # one that didn't come took longer than its trouble lasted
    value = float(np.quantile(waits, 0.99))
    goal, bare = f"p99 ≤ {PROMPT_MS:g} ms", float(np.quantile(live.screen.bare_ms, 0.99))
    yield Figure(f"reading to alarm, {rate}/s", value, "ms", PROMPT_MS, value / PROMPT_MS, goal, value <= PROMPT_MS)
    yield Figure("… against a message through the broker alone", value, "ms", bare, value / bare, "printed", None)
    peak, growth = memory.after(warm_up_s)
    name = f"resident memory, {rate}/s for {seconds} s"
    yield Figure(name, peak, "MB", MEMORY_MB, peak / MEMORY_MB, f"≤ {MEMORY_MB:g} MB", peak <= MEMORY_MB)
    window = rate * 3600 * len(plant.SPRAYING) / len(plant.BOOTHS) * 16 / 1e6
    ratio, goal, reached = growth / window, "printed; judged by --long", None
    if watched_s >= LONG_WATCHED_S:
        goal, reached = f"≤ {FLAT} × the window", ratio <= FLAT
    yield Figure("… its growth later on, in an hour", growth, "MB", window, ratio, goal, reached)


def _all_kept(found: dict, count: int) -> None:
    if found["readings"] != count or found["quarantined"]:
        raise SystemExit(f"{found['readings']} of {count} readings were kept, {found['quarantined']} quarantined")


def _quantile(histogram: list[list[int]], share: float) -> float:
    """The value that this share of (value, count) pairs doesn't exceed."""
    values, counts = np.array(histogram).T
    below = np.cumsum(counts)
    return float(values[np.searchsorted(below, share * below[-1])])


class _Screen:
    """Hears the alarms and knows when their reasons were published; and hears one point, for what the broker takes by itself."""

    def __init__(self, port: int) -> None:
        self.waits_ms: list[float] = []
        self.bare_ms: list[float] = []
        self._published: dict[str, float] = {}
        self._client = plant.bare_client()
        self._client.on_message = self._on_message
        self._client.connect("127.0.0.1", port)
        self._client.subscribe([("shop/+/alarm/+", 1), (f"shop/{plant.BOOTHS[-1]}/air-temperature", 1)])
        self._client.loop_start()

    def expect(self, booth: str) -> None:
        self._published[booth] = time.perf_counter()

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_message(self, _client: object, _userdata: object, message) -> None:
        now = time.perf_counter()
        body = json.loads(message.payload or b"{}")
        if "value" in body:
            self.bare_ms.append((time.time_ns() // 1000 - parse_time(body["time"])) / 1000)
        if body.get("state") == "unacknowledged" and body["requirement"].endswith("air_velocity"):
            published = self._published.pop(message.topic.split("/")[1], None)
            if published is not None:
                self.waits_ms.append((now - published) * 1000)


class _Trouble:
    """Which booths have too little air at a moment of the run, in turns; the screen is told of each first low reading."""

    def __init__(self, screen: _Screen) -> None:
        self._screen, self._low = screen, dict.fromkeys(plant.SPRAYING, -1)

    def value(self, booth: str, second: float) -> float | None:
        """The air velocity to send, None for a good one."""
        if booth not in self._low:
            return None
        turn = self._turn(booth, second)
        if turn is None:
            return None
        if self._low[booth] != turn:
            self._low[booth] = turn
            self._screen.expect(booth)
        return plant.LOW_VELOCITY

    def _turn(self, booth: str, second: float) -> int | None:
        """Turns begin every ALARM_EVERY_S, after five quiet seconds; a booth's own are those of its number."""
        place, booths = plant.SPRAYING.index(booth), len(plant.SPRAYING)
        turn = int((second - 5 - place * ALARM_EVERY_S) // (ALARM_EVERY_S * booths))
        into = second - 5 - (turn * booths + place) * ALARM_EVERY_S
        return turn if turn >= 0 and turn * booths + place < ALARMS and into < LOW_S else None


class _Live:
    """A broker, a logger that is connected and has vans open, a screen, and a plant that publishes at an even pace."""

    def __init__(self, folder: Path, config: Path) -> None:
        folder.mkdir()
        self._mosquitto = _broker(folder / "broker")
        self._folder, self._config = folder, config

    def __enter__(self) -> _Live:
        broker = self._mosquitto.__enter__()
        plant.leave_session(plant.CLIENT, broker.port)
        self.screen, self._publisher = _Screen(broker.port), plant.Publisher(broker.port)
        self.logger = LoggerProcess(self._folder / "store", self._config, broker.port)
        self._publisher.send(plant.opening(plant.now_us()))
        time.sleep(5)  # until it is connected and has taken them
        return self

    def __exit__(self, *_: object) -> None:
        if self.logger.process.poll() is None:
            self.logger.process.kill()
        self.screen.close()
        self._publisher.close()
        self._mosquitto.__exit__()

    def publish(
        self, rate: int, seconds: int, lull: Callable[[float], bool] = lambda _: False, low: _Trouble | None = None
    ) -> None:
        """`rate` readings a second of all points in turn; in a lull one a tenth of a second. Ends the benchmark where this
        machine can't: what was measured would be said of another rate."""
        begun, number = time.perf_counter(), 0
        for tick in range(round(seconds / TICK_S)):
            time.sleep(max(0.0, begun + tick * TICK_S - time.perf_counter()))
            second = tick * TICK_S
            for _ in range((tick % 10 == 0) if lull(second) else round(rate * TICK_S)):
                booth, point = plant.POINTS[number % len(plant.POINTS)]
                value = low.value(booth, second) if low and point == "air-velocity" else None
                self._publisher.send([plant.reading(booth, point, plant.now_us(), value)])
                number += 1
        self._sent = number
        took = time.perf_counter() - begun
        if took > 1.1 * seconds:
            raise SystemExit(f"{seconds} s of {rate} readings a second took {took:.0f} s to send; measure when it is idle")

    def stop(self) -> dict:
        """What the logger noted, once it has everything."""
        self._publisher.wait()
        time.sleep(1)
        found = self.logger.stop()
        _all_kept(found, self._sent)
        return found


class _Memory:
    """The resident memory of a process, looked at once a second."""

    def __init__(self, pid: int) -> None:
        self._pid, self._over = pid, threading.Event()
        self._seen: list[tuple[float, float]] = []
        self._thread = threading.Thread(target=self._watch)
        self._thread.start()

    def stop(self) -> None:
        self._over.set()
        self._thread.join()

    def after(self, warm_up_s: float) -> tuple[float, float]:
        """(largest MB, MB that come on top in an hour as a straight line through what was seen after the warm-up says)."""
        times, sizes = np.array([(second, size) for second, size in self._seen if second >= warm_up_s]).T
        return float(np.array(self._seen)[:, 1].max()), float(np.polyfit(times, sizes, 1)[0] * HOUR / SECOND)

    def _watch(self) -> None:
        begun = time.perf_counter()
        while not self._over.wait(1.0):
            self._seen.append((time.perf_counter() - begun, resident_mb(self._pid)))
