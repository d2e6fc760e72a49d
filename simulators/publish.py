"""Publish a simulated shift over MQTT, in lockstep with a logger or by the wall clock.

Lockstep: the readings and events of a tick, then `{"time": …}` on shop/clock/tick, then wait for the same on
shop/clock/done. Before the first tick an empty one, five seconds earlier, is repeated until somebody answers, so that
no reading is lost on a logger that isn't listening yet.
"""

from __future__ import annotations

import argparse
import json
import socket
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import paho.mqtt.client as paho

from booth.times import SECOND, TimeError, format_time, parse_time
from simulators.instruments import TICK_S
from simulators.people import MESSAGE
from simulators.plant import Plant
from simulators.scenario import Scenario
from simulators.station_files import NoAir, station_year
from simulators.tern_valley import TERN_VALLEY
from simulators.truth import Truth, write

TICK, DONE, ALARMS = "shop/clock/tick", "shop/clock/done", "shop/+/alarm/+"
REPEAT_S = 0.5


class NoAnswer(Exception):
    """The broker or the logger is not there; the text says which, and what to do."""


class Link:
    """One MQTT 5 connection: publishes in order with QoS 1, hears the logger's clock and its alarms."""

    def __init__(self, host: str, port: int, patience_s: float = 60.0) -> None:
        self.patience_s = patience_s
        self._heard = threading.Condition()
        self._listening = False
        self._done = ""
        self._alarms: list[tuple[str, dict | None]] = []
        self._last: paho.MQTTMessageInfo | None = None
        self.client = paho.Client(paho.CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
        self.client.on_socket_open = _no_delay
        self.client.on_connect = lambda client, *_: client.subscribe([(DONE, 1), (ALARMS, 1)])
        self.client.on_subscribe = self._on_subscribe
        self.client.on_message = self._on_message
        try:
            self.client.connect(host, port, keepalive=60)
        except OSError as problem:
            where = f"{host}:{port} ({problem})"
            raise NoAnswer(f"no MQTT broker at {where}; start one or name another with --host, --port") from None
        self.client.loop_start()
        if not self._wait(lambda: self._listening, patience_s):
            raise NoAnswer(f"the MQTT broker at {host}:{port} took no subscription within {patience_s:g} s; see its log")

    def send(self, messages: Sequence[MESSAGE]) -> None:
        """Hand all to the client without waiting; it keeps their order."""
        for topic, payload in messages:
            self._last = self.client.publish(topic, json.dumps(payload, separators=(",", ":")), qos=1)

    def alarms(self) -> list[tuple[str, dict | None]]:
        """What came on the alarm topics since the last call; None for a topic that was cleared."""
        with self._heard:
            heard, self._alarms = self._alarms, []
        return heard

    def await_logger(self, now: str) -> None:
        """Repeat an empty tick until the logger answers it. Raises NoAnswer."""
        deadline = time.monotonic() + self.patience_s
        while time.monotonic() < deadline:
            self.send([(TICK, {"time": now})])
            if self._wait(lambda: self._done == now, REPEAT_S):
                return
        raise NoAnswer(f"no logger answered {TICK} on {DONE} within {self.patience_s:g} s; start it, or run without --lockstep")

    def tick(self, now: str) -> None:
        """One tick in lockstep. Raises NoAnswer."""
        self.send([(TICK, {"time": now})])
        if not self._wait(lambda: self._done == now, self.patience_s):
            raise NoAnswer(f"the logger didn't answer the tick of {now} on {DONE} within {self.patience_s:g} s; see its output")

    def close(self) -> None:
        """Wait until the broker has the last message, then leave."""
        if self._last is not None and self.client.is_connected():
            self._last.wait_for_publish(self.patience_s)
        self.client.disconnect()
        self.client.loop_stop()

    def _wait(self, condition, seconds: float) -> bool:
        with self._heard:
            return self._heard.wait_for(condition, seconds)

    def _on_subscribe(self, *_: object) -> None:
        with self._heard:
            self._listening = True
            self._heard.notify_all()

    def _on_message(self, _client: paho.Client, _userdata: object, message: paho.MQTTMessage) -> None:
        try:
            body = json.loads(message.payload) if message.payload else None
        except ValueError:
            body = None  # not the logger's
        body = body if isinstance(body, dict) else None
        with self._heard:
            if message.topic != DONE:
                self._alarms.append((message.topic, body))
            elif body:
                self._done = body.get("time", "")
                self._heard.notify_all()


def _no_delay(_client: paho.Client, _userdata: object, opened: socket.socket) -> None:
    """Small messages and an answer awaited: with Nagle's algorithm every tick would take 40 ms. The broker's side of the same
    is Mosquitto's `set_tcp_nodelay true`."""
    opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def run(link: Link, plant: Plant, truth: Truth, *, lockstep: bool, speed: float = 1.0) -> None:
    """Publish the whole shift. Without lockstep `speed` shop seconds pass in a second of the wall clock."""
    begun = time.monotonic()
    times = list(plant.times())
    if lockstep:
        link.await_logger(format_time(times[0] - TICK_S * SECOND))
    for number, now in enumerate(times):
        if not lockstep:
            time.sleep(max(0.0, begun + number * TICK_S / speed - time.monotonic()))
        for topic, message in link.alarms():
            plant.acknowledger.heard(topic, message)
        link.send(plant.tick(now))
        truth.record()
        if lockstep:
            link.tick(format_time(now))


def main(arguments: Sequence[str] | None = None) -> None:
    """The command line. Exit codes: 0 done, 1 broker or logger don't answer, 2 usage."""
    options = _parser().parse_args(arguments)
    try:
        plant = Plant(options.seed, _under(_moved(TERN_VALLEY, options.start), options.air))
    except NoAir as problem:
        print(f"simulators: {problem}", file=sys.stderr)
        sys.exit(2)
    truth = Truth(plant)
    link = None
    try:
        link = Link(options.host, options.port, options.patience)
        run(link, plant, truth, lockstep=options.lockstep, speed=options.speed)
    except NoAnswer as problem:
        print(f"simulators: {problem}", file=sys.stderr)
        sys.exit(1)
    except KeyboardInterrupt:
        print("simulators: stopped; the truth ends here", file=sys.stderr)
    finally:
        if link:
            link.close()
            if options.out:
                write(truth, options.out)


def _moved(scenario: Scenario, start: str | None) -> Scenario:
    if start is None:
        return scenario
    return scenario.starting_at(time.time_ns() // 1000 // SECOND * SECOND if start == "now" else parse_time(start))


def _under(scenario: Scenario, air: Sequence[str] | None) -> Scenario:
    """Under the measured air of (file, date), if one was asked for. Raises NoAir."""
    if air is None:
        return scenario
    file, date = air
    return scenario.under(station_year(file).day(date))


def _start(text: str) -> str:
    if text != "now":
        try:
            parse_time(text)
        except TimeError as problem:
            raise argparse.ArgumentTypeError(f"{problem}, or now") from None
    return text


def _positive(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.0 < value < 1e9:
        raise argparse.ArgumentTypeError(f"{text!r} is not a positive number; write for example 60")
    return value


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m simulators", description="Publish an invented paint shop's shift over MQTT.")
    parser.add_argument("--host", default="127.0.0.1", help="MQTT broker (default 127.0.0.1)")
    parser.add_argument("--port", type=int, default=1883, help="its port (default 1883)")
    parser.add_argument("--seed", type=int, default=1, help="same seed, same messages (default 1)")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write the hidden truth here as JSON")
    parser.add_argument("--lockstep", action="store_true", help="wait for the logger's answer after every tick")
    parser.add_argument("--speed", type=_positive, default=1.0, help="without --lockstep: shop seconds per second (default 1)")
    parser.add_argument("--start", type=_start, help="move the shift to start now, or at an RFC 3339 time (default 2026-07-13)")
    measured = "real outside air: a TMY file, or one that pvlib carries, and a day of it (723170TYA.CSV 02-24)"
    parser.add_argument("--air", nargs=2, metavar=("FILE", "MM-DD"), help=measured)
    parser.add_argument("--patience", type=_positive, default=60.0, help="seconds to wait for an answer (default 60)")
    return parser
