"""What the broker keeps: the retained topics under a filter, read once with a connection of its own."""

from __future__ import annotations

import threading
import uuid

import paho.mqtt.client as paho

from booth.readers.mqtt import Broker


def retained_topics(broker: Broker, topic_filter: str, timeout: float = 5.0) -> frozenset[str]:
    """Topics that have a retained message. Raises TimeoutError where the broker doesn't answer in `timeout` seconds.

    The end of the list is known by a fence: a message of our own, published after the subscription, that the broker puts behind
    what it had kept.
    """
    fence = f"{topic_filter.split('/')[0]}/fence/{uuid.uuid4()}/end"  # a level too deep to be taken for a reading
    topics: set[str] = set()
    complete = threading.Event()

    def on_connect(client: paho.Client, *_rest) -> None:
        client.subscribe([(topic_filter, 1), (fence, 1)])

    def on_subscribe(client: paho.Client, *_rest) -> None:
        client.publish(fence, b"end", qos=1)

    def on_message(_client: paho.Client, _userdata, message: paho.MQTTMessage) -> None:
        if message.topic == fence:
            complete.set()
        elif message.retain:
            topics.add(message.topic)

    client = broker.client(f"retained-{uuid.uuid4()}", session=False)
    client.on_connect, client.on_subscribe, client.on_message = on_connect, on_subscribe, on_message
    client.connect_async(broker.host, broker.port, broker.keepalive_s)
    client.loop_start()
    try:
        if not complete.wait(timeout):
            raise TimeoutError(
                f"the broker at {broker.host}:{broker.port} didn't list {topic_filter} within {timeout:g} s; look whether it "
                f"runs and whether its ACL lets us read {topic_filter} and write {topic_filter.split('/')[0]}/fence/##"
            )
    finally:
        client.disconnect()
        client.loop_stop()
    return frozenset(topics)
