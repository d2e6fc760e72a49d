"""A made-up plant for bench_ingest: 20 booths like the demonstration's north booth, 12 points each; in five a coat is going on.

So everything that a running shop asks of the loop is asked of it: five vans judged, and alarms without a delay.
"""

from __future__ import annotations

import json
import shutil
import threading
import time
import uuid
from collections.abc import Iterable, Iterator
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from booth.times import format_time

CONFIG = Path(__file__).resolve().parents[1] / "config"
CLIENT = "tern-valley-booth-logger"  # as the demonstration's site.toml names it
BOOTHS = tuple(f"line-{number:02}" for number in range(1, 21))
SPRAYING = BOOTHS[:5]
GOOD = {
    "air-temperature": (23.4, "degC"),
    "humidity": (45.2, "percent"),
    "air-velocity": (0.51, "m/s"),
    "booth-pressure": (3.1, "Pa"),
    "exhaust-flow": (22.4, "m^3/s"),
    "filter-drop": (120.5, "Pa"),
    "part-1": (23.1, "degC"),
    "part-2": (23.2, "degC"),
    "part-3": (23.3, "degC"),
    "gun-1": (0.0, "L/min"),
    "gun-2": (0.0, "L/min"),
    "mode": ("spray", ""),
}
POINTS = tuple((booth, point) for point in GOOD for booth in BOOTHS)
PATIENCE_S = 60.0
LOW_VELOCITY = 0.30  # m/s: below the booth's own limit for spraying, above its hazard

Message = tuple[str, bytes]


def write_config(folder: Path) -> Path:
    """The demonstration's shop with the plant's booths beside its own, and no delay before an alarm."""
    shutil.copytree(CONFIG, folder)
    for booth in BOOTHS:
        shutil.copy(CONFIG / "booths" / "north.toml", folder / "booths" / f"{booth}.toml")
    site = (folder / "site.toml").read_text(encoding="utf-8")
    for delay in ('on_delay = "10 s"', 'off_delay = "20 s"'):
        assert delay in site, f"config/site.toml has no {delay} any more"
        site = site.replace(delay, delay.split(" = ")[0] + ' = "0 s"')
    (folder / "site.toml").write_text(site, encoding="utf-8")
    return folder


def opening(now: int) -> list[Message]:
    """A van into each of the SPRAYING booths, and the first coat begun."""
    found = []
    for number, booth in enumerate(SPRAYING):
        van = f"TV-{4101 + number}"
        probes = {f"part-{probe}": "lower" for probe in (1, 2, 3)}
        found += [
            _event(booth, now, "job-open", vehicle=van, process="standard"),
            _event(booth, now, "load", vans=[{"vehicle": van, "probes": probes}]),
            _event(booth, now, "step-start", vehicle=van, step="sealer"),
        ]
    return found


def _event(booth: str, now: int, kind: str, **facts: object) -> Message:
    body = {"id": str(uuid.uuid4()), "event": kind, "time": format_time(now), "by": "badge-17", **facts}
    return f"shop/{booth}/event", json.dumps(body).encode()


def reading(booth: str, point: str, time_us: int, value: float | str | None = None) -> Message:
    """One reading as an instrument sends it; without a value, a good one that moves a little."""
    usual, unit = GOOD[point]
    if value is None:
        value = usual if isinstance(usual, str) else round(usual + (time_us // 250_000 % 7) / 100, 2)
    body = {"time": format_time(time_us), "value": value} | ({"unit": unit} if unit else {})
    return f"shop/{booth}/{point}", json.dumps(body).encode()


def backlog(count: int, begin: int, period_us: int = 250_000) -> Iterator[Message]:
    """So many readings of all points in turn."""
    for number in range(count):
        booth, point = POINTS[number % len(POINTS)]
        yield reading(booth, point, begin + number // len(POINTS) * period_us)


class Publisher:
    """One connection; waits for the broker where it is asked to."""

    def __init__(self, port: int) -> None:
        self.client = bare_client()
        self.client.max_inflight_messages_set(1000)
        self._taken, self._sent = 0, 0
        self._changed = threading.Condition()
        self.client.on_publish = self._on_publish
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def send(self, messages: Iterable[Message]) -> None:
        for topic, payload in messages:
            self._sent += 1
            self.client.publish(topic, payload, qos=1)

    def wait(self, seconds: float = PATIENCE_S) -> None:
        """Until the broker has taken all of it. Raises TimeoutError."""
        with self._changed:
            if not self._changed.wait_for(lambda: self._taken == self._sent, seconds):
                raise TimeoutError(f"the broker has taken {self._taken} of {self._sent} messages in {seconds:g} s")

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()

    def _on_publish(self, *_: object) -> None:
        with self._changed:
            self._taken += 1
            if self._taken == self._sent:
                self._changed.notify_all()


def bare_client(client_id: str = "") -> paho.Client:
    """MQTT 5, acknowledged by paho itself; not connected yet."""
    return paho.Client(paho.CallbackAPIVersion.VERSION2, client_id=client_id, protocol=paho.MQTTv5)


def _connect(client: paho.Client, port: int, *, clean: bool = False) -> None:
    """With a session that the broker keeps."""
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = 3600
    properties.ReceiveMaximum = 500
    client.connect("127.0.0.1", port, clean_start=clean, properties=properties)


def leave_session(client_id: str, port: int) -> None:
    """Subscribe under this name and go: from now on the broker keeps everything for it."""
    client = bare_client(client_id)
    subscribed = threading.Event()
    client.on_subscribe = lambda *_: subscribed.set()
    options = SubscribeOptions(qos=1, noLocal=True, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB)  # as the logger does
    client.on_connect = lambda one, *_: one.subscribe("shop/+/+", options=options)
    _connect(client, port, clean=True)
    client.loop_start()
    if not subscribed.wait(10):
        raise TimeoutError("the broker took no subscription within 10 s")
    client.disconnect()
    client.loop_stop()


def bare_drain(client_id: str, port: int, count: int) -> float:
    """Seconds from the first message to the last of a backlog, for a client that only counts them. Raises TimeoutError."""
    client = bare_client(client_id)
    begun, came = 0.0, 0

    def on_message(*_: object) -> None:
        nonlocal begun, came
        came += 1
        if came == 1:
            begun = time.perf_counter()
        elif came == count:
            ended.append(time.perf_counter())
            client.disconnect()

    ended: list[float] = []
    client.on_message = on_message
    giving_up = threading.Timer(PATIENCE_S, client.disconnect)
    giving_up.start()
    _connect(client, port)
    client.loop_forever()
    giving_up.cancel()
    if not ended:
        raise TimeoutError(f"{came} of {count} messages came in {PATIENCE_S:g} s")
    return ended[0] - begun


def now_us() -> int:
    return time.time_ns() // 1000 // 1000 * 1000
