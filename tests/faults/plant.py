"""A made-up hour of one van as messages, and a plant that sends them and remembers what the broker has taken over."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby

import paho.mqtt.client as paho

from booth.times import format_time, parse_time
from tests.app.plants import shift_of_one_van
from tests.broker import MosquittoBroker

STORY_ENDS = parse_time("2026-07-13T11:35:00Z")  # the sealer and the beginning of its flash-off
TICK_TOPIC = "shop/clock/tick"


@dataclass(frozen=True)
class Message:
    """One message of the story; a tick says that all before it is out."""

    topic: str
    body: dict

    @property
    def payload(self) -> bytes:
        return json.dumps(self.body).encode()

    @property
    def is_event(self) -> bool:
        return self.topic.endswith("/event")

    @property
    def is_reading(self) -> bool:
        return not self.is_event and self.topic != TICK_TOPIC


@cache
def story() -> tuple[Message, ...]:
    """Every message of the south booth and one van, each tick behind its own."""
    told = (one for one in shift_of_one_van() if one[0] <= STORY_ENDS)
    messages: list[Message] = []
    for tick, group in groupby(told, key=lambda one: one[0]):
        messages += [Message(topic, body) for _, topic, body in group]
        messages.append(Message(TICK_TOPIC, {"time": format_time(tick)}))
    return tuple(messages)


def reading(number: int) -> Message:
    """A reading of now; its value is its number, so that each can be told from the others."""
    body = {"time": format_time(time.time_ns() // 1000), "value": round(number / 100, 2), "unit": "degC"}
    return Message("shop/south/air-temperature", body)


class Publisher:
    """Sends with QoS 1. What is in `taken` the broker has said that it keeps: from then on it must not be lost."""

    def __init__(self, broker: MosquittoBroker) -> None:
        self._sent: list[tuple[int, Message]] = []
        self._answered: set[int] = set()
        self._lock = threading.Lock()
        self._client = client = paho.Client(paho.CallbackAPIVersion.VERSION2, client_id="plant", protocol=paho.MQTTv5)
        client.on_publish = self._on_publish
        client.reconnect_delay_set(1, 1)
        client.max_inflight_messages_set(100)
        client.connect(broker.host, broker.port)
        client.loop_start()

    def send(self, messages: Sequence[Message]) -> None:
        """Hand messages over; a lost connection is paho's to mend, which sends again what wasn't answered."""
        for message in messages:
            info = self._client.publish(message.topic, message.payload, qos=1)
            self._sent.append((info.mid, message))

    @property
    def sent(self) -> list[Message]:
        return [message for _, message in self._sent]

    @property
    def taken(self) -> list[Message]:
        with self._lock:
            answered = set(self._answered)
        return [message for mid, message in self._sent if mid in answered]

    @property
    def is_done(self) -> bool:
        return len(self._answered) == len(self._sent)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def __enter__(self) -> Publisher:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _on_publish(self, _client: paho.Client, _data: object, mid: int, *_: object) -> None:
        with self._lock:
            self._answered.add(mid)
