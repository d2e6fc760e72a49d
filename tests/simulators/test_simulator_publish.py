"""Publishing over a real broker: order, lockstep, acknowledgements, and what is said when nobody answers."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import paho.mqtt.client as paho
import pytest

from booth.times import SECOND, format_time
from simulators import publish
from simulators.people import ACKNOWLEDGED_AFTER_TICKS
from simulators.plant import Plant
from simulators.tern_valley import TERN_VALLEY
from simulators.truth import Truth
from tests.broker import MosquittoBroker

SHORT = replace(TERN_VALLEY, end=TERN_VALLEY.start + 150)


class EchoLogger:
    """Answers every tick as a logger would, keeps what came, and raises one alarm at its third tick."""

    def __init__(self, broker: MosquittoBroker, deaf_to: int = 0) -> None:
        self.heard: list[tuple[str, dict]] = []
        self.ticks = 0
        self._deaf_to = deaf_to
        self._ready = threading.Event()
        self.client = paho.Client(paho.CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
        self.client.on_socket_open = publish._no_delay
        self.client.on_connect = lambda client, *_: client.subscribe("shop/#", 1)
        self.client.on_subscribe = lambda *_: self._ready.set()
        self.client.on_message = self._on_message
        self.client.connect(broker.host, broker.port)
        self.client.loop_start()
        assert self._ready.wait(10)

    def _on_message(self, client: paho.Client, _userdata: object, message: paho.MQTTMessage) -> None:
        if message.topic == publish.TICK:
            self.ticks += 1
            if self.ticks > self._deaf_to:
                if self.ticks == self._deaf_to + 3:
                    alarm = {"alarm": "TV-4101/1/x", "state": "unacknowledged"}
                    client.publish("shop/north/alarm/x", json.dumps(alarm), qos=1, retain=True)
                client.publish(publish.DONE, message.payload, qos=1)
        elif "/alarm/" not in message.topic and message.topic != publish.DONE:
            self.heard.append((message.topic, json.loads(message.payload)))

    def stop(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture
def echo(mosquitto: MosquittoBroker) -> Iterator[Callable[..., EchoLogger]]:
    made: list[EchoLogger] = []

    def start(**options: int) -> EchoLogger:
        made.append(EchoLogger(mosquitto, **options))
        return made[-1]

    yield start
    for one in made:
        one.stop()


def publish_shift(broker: MosquittoBroker, lockstep: bool, speed: float = 1.0) -> Truth:
    plant = Plant(1, SHORT)
    truth = Truth(plant)
    link = publish.Link(broker.host, broker.port, patience_s=20.0)
    try:
        publish.run(link, plant, truth, lockstep=lockstep, speed=speed)
    finally:
        link.close()
    return truth


def test_lockstep_sends_everything_in_order_and_answers_the_alarm(
    mosquitto: MosquittoBroker, echo: Callable[..., EchoLogger]
) -> None:
    logger = echo(deaf_to=2)  # the first ticks are repeated until somebody listens
    truth = publish_shift(mosquitto, lockstep=True)
    expected, plant = [], Plant(1, SHORT)
    for number, time in enumerate(plant.times()):
        if number == 2:  # the alarm came with the answer to the second tick after the greeting
            plant.acknowledger.heard("shop/north/alarm/x", {"alarm": "TV-4101/1/x", "state": "unacknowledged"})
        expected += plant.tick(time)
    assert logger.heard == [(topic, json.loads(json.dumps(body))) for topic, body in expected]
    acknowledged = [body for _, body in logger.heard if body.get("event") == "acknowledge"]
    answered_at = SHORT.midnight + (SHORT.start + 5 * (1 + ACKNOWLEDGED_AFTER_TICKS)) * SECOND
    assert [(a["alarm"], a["time"]) for a in acknowledged] == [("TV-4101/1/x", format_time(answered_at))]
    assert len(truth.booths["north"]["mode"]) == 31


def test_two_lockstep_runs_are_equal_bit_for_bit(mosquitto: MosquittoBroker, echo: Callable[..., EchoLogger]) -> None:
    logger = echo()
    publish_shift(mosquitto, lockstep=True)
    first, logger.heard, logger.ticks = logger.heard, [], 0
    logger.client.publish("shop/north/alarm/x", b"", qos=1, retain=True).wait_for_publish(10)  # as a logger does at its start
    publish_shift(mosquitto, lockstep=True)
    assert first == logger.heard and len(first) > 900


def test_without_lockstep_nobody_needs_to_answer(mosquitto: MosquittoBroker) -> None:
    truth = publish_shift(mosquitto, lockstep=False, speed=1000.0)
    assert truth.document()["vans"].keys() == {"TV-4101", "TV-4102", "TV-4103", "TV-4104", "TV-4105"}


def test_command_line_leaves_the_truth_in_a_file(
    mosquitto: MosquittoBroker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(publish, "TERN_VALLEY", SHORT)
    out = tmp_path / "new" / "truth.json"
    publish.main(["--port", str(mosquitto.port), "--speed", "1000", "--seed", "4", "--out", str(out)])
    truth = json.loads(out.read_text(encoding="utf-8"))
    assert truth["seed"] == 4 and len(truth["series"]["south"]["margin_k"]) == 31


def test_silent_logger_is_named(mosquitto: MosquittoBroker, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        publish.main(["--port", str(mosquitto.port), "--lockstep", "--patience", "1"])
    assert ended.value.code == 1
    sentence = "no logger answered shop/clock/tick on shop/clock/done within 1 s; start it, or run without --lockstep"
    assert sentence in capsys.readouterr().err


def test_missing_broker_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        publish.main(["--port", "1"])
    assert ended.value.code == 1
    assert "no MQTT broker at 127.0.0.1:1" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--speed", "0"], "'0' is not a positive number; write for example 60"),
        (["--start", "tomorrow"], "write for example 2026-03-02T08:14:05.250Z, or now"),
    ],
)
def test_wrong_options_say_what_to_write(arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        publish.main(arguments)
    assert ended.value.code == 2
    assert sentence in capsys.readouterr().err
