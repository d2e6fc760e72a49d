"""The MQTT reader against a real Mosquitto: in order, none lost, none acknowledged before it was committed."""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import paho.mqtt.client as paho
import pytest

from booth.readers.decode import MAX_PAYLOAD
from booth.readers.mqtt import Broker, MqttReader
from booth.readers.received import Received, SessionLost
from booth.readers.retained import retained_topics
from tests.broker import MosquittoBroker

VERSIONS = pytest.mark.parametrize("version", [5, 3])
TOPIC = "shop/north/air-temperature"


def microseconds() -> int:
    return time.time_ns() // 1000


@contextmanager
def reading(mosquitto: MosquittoBroker, version: int = 5, **options: object) -> Iterator[MqttReader]:
    """A connected reader of all points; stopped afterwards."""
    broker = Broker(mosquitto.host, mosquitto.port, version)
    reader = MqttReader(broker, "logger", ["shop/+/+"], microseconds, **({"reconnect_max_s": 1} | options))
    reader.start()
    try:
        assert reader.wait_connected(10), reader.problem
        yield reader
    finally:
        reader.stop()


@contextmanager
def publishing(mosquitto: MosquittoBroker) -> Iterator[paho.Client]:
    client = paho.Client(paho.CallbackAPIVersion.VERSION2, client_id="plant")
    client.max_inflight_messages_set(200)
    client.connect(mosquitto.host, mosquitto.port)
    client.loop_start()
    try:
        yield client
    finally:
        client.disconnect()
        client.loop_stop()


def send(mosquitto: MosquittoBroker, numbers: range) -> None:
    """Publish the numbers; returns when the broker has taken the last one."""
    with publishing(mosquitto) as client:
        sent = [client.publish(TOPIC, str(number), qos=1) for number in numbers]
        for each in sent:
            each.wait_for_publish(20)


def take(reader: MqttReader, count: int, acknowledge: bool = True) -> list[Received | SessionLost]:
    """The next `count` items."""
    items: list[Received | SessionLost] = []
    while len(items) < count and (item := reader.get(10)) is not None:
        items.append(item)
        if acknowledge and isinstance(item, Received):
            reader.acknowledge(item)
    assert len(items) == count
    return items


def payloads(items: list[Received | SessionLost]) -> list[int]:
    return [int(each.payload) for each in items if isinstance(each, Received)]


def until(condition: Callable[[], bool], seconds: float = 10) -> None:
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.02)


@VERSIONS
def test_in_order_with_topic_payload_and_arrival(mosquitto: MosquittoBroker, version: int) -> None:
    with reading(mosquitto, version) as reader:
        before = microseconds()
        send(mosquitto, range(500))
        items = take(reader, 500)
        assert payloads(items) == list(range(500))
        assert {each.topic for each in items} == {TOPIC}
        assert before <= items[0].arrived <= items[-1].arrived <= microseconds()
        assert not items[0].retained
        assert reader.get(0.2) is None


@VERSIONS
def test_what_was_not_acknowledged_comes_again(mosquitto: MosquittoBroker, version: int) -> None:
    with reading(mosquitto, version) as reader:
        send(mosquitto, range(100))
        take(reader, 60)
        take(reader, 40, acknowledge=False)
    with reading(mosquitto, version) as reader:
        assert payloads(take(reader, 40)) == list(range(60, 100))
        assert reader.get(0.2) is None
    with reading(mosquitto, version) as reader:
        assert reader.get(0.3) is None


_KILLED = """
import sys, time
from booth.readers.mqtt import Broker, MqttReader
reader = MqttReader(Broker("127.0.0.1", int(sys.argv[1])), "logger", ["shop/+/+"], lambda: 0)
reader.start()
for number in range(100):
    received = reader.get(10)
    if number < 50:
        reader.acknowledge(received)
time.sleep(0.5)  # the acknowledgements leave on the network thread
print("ready", flush=True)
time.sleep(60)
"""


def test_a_killed_process_gets_again_what_it_had_not_acknowledged(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto):
        pass  # the broker knows the session from now on
    send(mosquitto, range(100))
    root = Path(__file__).resolve().parents[2]
    process = subprocess.Popen([sys.executable, "-c", _KILLED, str(mosquitto.port)], cwd=root, stdout=subprocess.PIPE)
    with process:
        assert process.stdout.readline() == b"ready\n"
        process.kill()
    with reading(mosquitto) as reader:
        assert payloads(take(reader, 50)) == list(range(50, 100))
        assert reader.get(0.2) is None


def test_acknowledgements_of_an_older_connection_are_dropped(mosquitto: MosquittoBroker) -> None:
    """Message ids begin anew with each connection: a late acknowledgement would else hit another message."""
    with reading(mosquitto) as reader:
        send(mosquitto, range(10))
        old = take(reader, 10, acknowledge=False)
        mosquitto.stop()
        until(lambda: not reader.connected)
        mosquitto.start()
        again = take(reader, 10, acknowledge=False)
        assert {each.generation for each in again}.isdisjoint({each.generation for each in old})
        for each in old:
            reader.acknowledge(each)
        time.sleep(0.3)
        assert mosquitto.log.read_text().count("Received PUBACK from logger") == 0
        reader.acknowledge(again[0])
        until(lambda: mosquitto.log.read_text().count("Received PUBACK from logger") == 1)
    with reading(mosquitto) as reader:
        assert payloads(take(reader, 9)) == list(range(1, 10))


def test_acknowledgements_reach_the_broker_in_the_order_of_receipt(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto) as reader:
        send(mosquitto, range(300))
        take(reader, 300)
        until(lambda: mosquitto.log.read_text().count("Received PUBACK from logger") == 300)
    lines = mosquitto.log.read_text().splitlines()
    delivered = [line.split(" m")[1].split(",")[0] for line in lines if "Sending PUBLISH to logger" in line]
    acknowledged = [line.split("Mid: ")[1].split(",")[0] for line in lines if "Received PUBACK from logger" in line]
    assert delivered == acknowledged


def test_a_killed_broker_is_found_again_and_brings_its_queue(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto) as reader:
        send(mosquitto, range(50))
        take(reader, 20)
        held = take(reader, 30, acknowledge=False)
        time.sleep(2.5)  # the broker saves every second
        mosquitto.restart()
        again = take(reader, 30)
        assert payloads(again) == payloads(held) == list(range(20, 50))
        send(mosquitto, range(50, 60))
        assert payloads(take(reader, 10)) == list(range(50, 60))


@VERSIONS
def test_a_session_that_the_broker_lost_is_told_before_what_comes_after(mosquitto: MosquittoBroker, version: int) -> None:
    with reading(mosquitto, version) as reader:
        send(mosquitto, range(3))
        last = take(reader, 3)[-1]
        mosquitto.kill()
        (mosquitto.log.parent / "mosquitto.db").unlink(missing_ok=True)
        mosquitto.start()
        until(lambda: reader.waiting > 0)
        lost = reader.get(1)
        assert isinstance(lost, SessionLost)
        assert lost.since == last.arrived < lost.arrived
        assert reader.wait_connected(10)
        send(mosquitto, range(3, 6))
        assert payloads(take(reader, 3)) == [3, 4, 5]


def test_the_first_connection_ever_is_no_loss_but_a_forgotten_session_is(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto) as reader:
        assert reader.get(0.2) is None
    with reading(mosquitto, last_heard=17) as reader:
        assert reader.get(0.2) is None, "the broker still knew the session"
    mosquitto.kill()
    (mosquitto.log.parent / "mosquitto.db").unlink(missing_ok=True)
    mosquitto.start()
    with reading(mosquitto, last_heard=17) as reader:
        assert take(reader, 1)[0].since == 17


@pytest.mark.parametrize("backlog", [True, False], ids=["backlog", "live"])
def test_a_stalled_consumer_holds_the_broker_back_and_loses_nothing(mosquitto: MosquittoBroker, backlog: bool) -> None:
    """After a backlog Mosquitto sends more than the receive window: only the blocking queue keeps memory bounded."""
    total = 4000
    with reading(mosquitto) as reader:
        pass
    if backlog:
        send(mosquitto, range(total))
    with reading(mosquitto, queue_size=50, receive_maximum=100) as reader:
        sender = threading.Thread(target=send, args=(mosquitto, range(0 if backlog else total)))
        sender.start()
        got = payloads(take(reader, 200))
        time.sleep(1.0)  # the database stalls
        assert reader.waiting <= 50
        got += payloads(take(reader, total - 200))
        sender.join()
        assert got == list(range(total))
        assert reader.get(0.2) is None


def test_stopping_with_a_full_queue_loses_nothing(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto, queue_size=10) as reader:
        send(mosquitto, range(300))
        got = payloads(take(reader, 25))
        until(lambda: reader.waiting == 10)
    with reading(mosquitto) as reader:
        got += payloads(take(reader, 275))
    assert got == list(range(300))


def test_an_acknowledgement_after_stop_does_nothing(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto) as reader:
        send(mosquitto, range(1))
        (received,) = take(reader, 1, acknowledge=False)
    reader.acknowledge(received)
    with reading(mosquitto) as reader:
        assert payloads(take(reader, 1)) == [0]


def test_stop_is_quick_without_a_broker_and_says_what_is_wrong(mosquitto: MosquittoBroker) -> None:
    mosquitto.stop()
    reader = MqttReader(Broker(mosquitto.host, mosquitto.port), "logger", ["shop/+/+"], microseconds)
    reader.start()
    until(lambda: reader.problem is not None)
    assert f"no broker answers at 127.0.0.1:{mosquitto.port}" in reader.problem
    began = time.monotonic()
    reader.stop()
    assert time.monotonic() - began < 3


def test_what_is_published_without_a_connection_is_sent_on_the_next(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto) as reader:
        mosquitto.stop()
        until(lambda: not reader.connected)
        reader.publish("shop/north/alarm/A", b"{}", retain=True)
        mosquitto.start()
        broker = Broker(mosquitto.host, mosquitto.port)
        until(lambda: "shop/north/alarm/A" in retained_topics(broker, "shop/+/alarm/+"))


def test_a_retained_reading_says_so_and_comes_once(mosquitto: MosquittoBroker) -> None:
    with publishing(mosquitto) as client:
        client.publish(TOPIC, "21.4", qos=1, retain=True).wait_for_publish(10)
    with reading(mosquitto) as reader:
        assert take(reader, 1)[0].retained
    with reading(mosquitto) as reader:
        assert reader.get(0.3) is None, "each reconnect would bring it again"


def test_our_own_answers_are_no_news(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto) as reader:
        reader.publish("shop/clock/done", b"{}")
        assert reader.get(0.3) is None


def test_quality_of_service_0_needs_no_acknowledgement_and_a_huge_payload_is_cut(mosquitto: MosquittoBroker) -> None:
    with reading(mosquitto) as reader, publishing(mosquitto) as client:
        client.publish(TOPIC, b"x" * 1_000_000, qos=0)
        (received,) = take(reader, 1)
        assert received.acknowledge is None
        assert len(received.payload) == MAX_PAYLOAD + 1


@pytest.mark.parametrize("filters", [[], [""], ["a#"], ["a/#/b"], ["a+/b"], ["#a"], ["shop/+/+", "x\0"]])
def test_a_filter_that_is_none(filters: list[str]) -> None:
    with pytest.raises(ValueError, match="expected some like 'shop/"):
        MqttReader(Broker("127.0.0.1"), "logger", filters, microseconds)


def test_a_refused_subscription_is_said_to_be_one() -> None:
    """Mosquitto grants every subscription, so a socket stands in that answers as MQTT 5 sections 3.2 and 3.9 say: 0x87."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        reader = MqttReader(Broker(*server.getsockname()), "logger", ["shop/+/+"], microseconds)
        reader.start()
        connection, _ = server.accept()
        with connection:
            connection.recv(1000)
            connection.sendall(bytes([0x20, 3, 0, 0, 0]))
            subscribe = connection.recv(1000)
            connection.sendall(bytes([0x90, 4, *subscribe[2:4], 0, 0x87]))
            until(lambda: reader.problem is not None)
            assert "refuses to give us shop/+/+; allow it in the broker's ACL" in reader.problem
            assert not reader.connected
            reader.stop()


def test_user_and_password(tmp_path: Path) -> None:
    password_file = tmp_path / "passwords"
    password_file.touch(mode=0o600)
    subprocess.run(["mosquitto_passwd", "-b", str(password_file), "logger", "a secret"], check=True, capture_output=True)
    mosquitto = MosquittoBroker(tmp_path, f"allow_anonymous false\npassword_file {password_file}\n").start()
    try:
        for password, lets_in in (("a secret", True), ("wrong", False)):
            broker = Broker(mosquitto.host, mosquitto.port, username="logger", password=password)
            reader = MqttReader(broker, "logger", ["shop/+/+"], microseconds)
            reader.start()
            until(lambda reader=reader: reader.connected or reader.problem is not None)
            assert reader.connected == lets_in
            if not lets_in:
                assert "refuses us" in reader.problem and "check user, password" in reader.problem
                assert "wrong" not in reader.problem
            reader.stop()
    finally:
        mosquitto.stop()
