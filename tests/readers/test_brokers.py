"""Two real brokers and one reader: one queue, each message acknowledged where it came from."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from pydantic import ValidationError

from booth.readers.brokers import Brokers
from booth.readers.mqtt import Broker, MqttReader
from booth.readers.received import Received, SessionLost
from booth.readers.retained import retained_topics
from booth.shop.site import Mqtt
from tests.broker import MosquittoBroker

NAMES = ("", "plc")


@pytest.fixture
def two(tmp_path: Path) -> Iterator[dict[str, MosquittoBroker]]:
    made = {}
    for name in NAMES:
        (tmp_path / f"broker-{name}").mkdir()
        made[name] = MosquittoBroker(tmp_path / f"broker-{name}").start()
    try:
        yield made
    finally:
        for broker in made.values():
            broker.stop()


@contextmanager
def reading(two: dict[str, MosquittoBroker], **options: object) -> Iterator[Brokers]:
    def make(room: object) -> list[MqttReader]:
        return [
            MqttReader(Broker(one.host, one.port), f"logger-{name}", ["shop/+/+"], now, name=name, waiting_room=room, **options)
            for name, one in two.items()
        ]

    options = {"reconnect_max_s": 1} | options
    reader = Brokers(make)
    reader.start()
    try:
        until(lambda: reader.connected)
        yield reader
    finally:
        reader.stop()


def now() -> int:
    return time.time_ns() // 1000


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 20
    while not true() and time.monotonic() < deadline:
        time.sleep(0.02)
    assert true()


def send(broker: MosquittoBroker, numbers: range, point: str) -> None:
    client = paho.Client(paho.CallbackAPIVersion.VERSION2, client_id="plant")
    client.connect(broker.host, broker.port)
    client.loop_start()
    for info in [client.publish(f"shop/north/{point}", str(number), qos=1) for number in numbers]:
        info.wait_for_publish(10)
    client.disconnect()
    client.loop_stop()


def take(reader: Brokers, count: int) -> list[Received | SessionLost]:
    found = []
    deadline = time.monotonic() + 20
    while len(found) < count and time.monotonic() < deadline:
        one = reader.get(0.1)
        found += [] if one is None else [one]
    assert len(found) == count
    return found


def numbers(messages: list, point: str) -> list[int]:
    return [int(one.payload) for one in messages if one.topic.endswith(point)]


def test_each_message_is_acknowledged_to_the_broker_that_brought_it(two: dict[str, MosquittoBroker]) -> None:
    with reading(two) as reader:
        send(two[""], range(40), "air")
        send(two["plc"], range(30), "pressure")
        found = take(reader, 70)
        assert numbers(found, "air") == list(range(40)) and numbers(found, "pressure") == list(range(30))
        for one in found:
            if one.topic.endswith("pressure"):
                reader.acknowledge(one)
    with reading(two) as reader:  # what came from the first was never acknowledged, and comes again from there alone
        found = take(reader, 40)
        assert numbers(found, "air") == list(range(40))
        assert reader.get(0.3) is None
        for one in found:
            reader.acknowledge(one)
    with reading(two) as reader:
        assert reader.get(0.3) is None


def test_a_broker_that_is_away_holds_up_nothing_of_the_other(two: dict[str, MosquittoBroker]) -> None:
    with reading(two) as reader:
        two["plc"].kill()
        until(lambda: not reader.connected)
        send(two[""], range(5), "air")
        for one in take(reader, 5):
            reader.acknowledge(one)
        assert f":{two['plc'].port}" in reader.problem
        two["plc"].start()
        until(lambda: reader.connected)
        assert reader.problem is None


def test_a_lost_session_says_whose(two: dict[str, MosquittoBroker]) -> None:
    with reading(two) as reader:
        send(two["plc"], range(1), "pressure")
        reader.acknowledge(take(reader, 1)[0])
        two["plc"].kill()
        (two["plc"].log.parent / "mosquitto.db").unlink(missing_ok=True)
        two["plc"].start()
        (lost,) = take(reader, 1)
        assert isinstance(lost, SessionLost) and lost.broker == "plc"


def test_one_queue_bounds_them_both(two: dict[str, MosquittoBroker]) -> None:
    with reading(two, queue_size=20) as reader:
        send(two[""], range(300), "air")
        send(two["plc"], range(300), "pressure")
        time.sleep(0.5)
        assert reader.waiting <= 20 + 1
        found = []
        for one in (one for _ in range(600) for one in take(reader, 1)):
            reader.acknowledge(one)
            found.append(one)
        assert numbers(found, "air") == numbers(found, "pressure") == list(range(300))


def test_what_is_published_reaches_every_broker(two: dict[str, MosquittoBroker]) -> None:
    with reading(two) as reader:
        reader.publish("shop/north/alarm/A", b"{}", retain=True)
        for one in two.values():
            broker = Broker(one.host, one.port)
            until(lambda broker=broker: "shop/north/alarm/A" in retained_topics(broker, "shop/+/alarm/+"))


def test_client_ids_are_stable_and_distinct() -> None:
    site = Mqtt(client_id="tern-valley", brokers={"plc": {"host": "plc.shop.lan"}, "oven": {"host": "oven", "client_id": "o-1"}})
    assert site.client_ids() == {"": "tern-valley", "plc": "tern-valley-plc", "oven": "o-1"}
    with pytest.raises(ValidationError, match="two connections to one broker need two client ids"):
        Mqtt(host="here", client_id="one", brokers={"again": {"host": "here", "client_id": "one"}})
