"""Readings and events from an MQTT broker, none lost: what isn't committed isn't acknowledged, and the broker sends it again.

One bounded queue, in the order of arrival, between paho's network thread and the one consumer. When the consumer stalls, the
network thread waits in `_put`, TCP slows the broker down, and the broker keeps the rest: memory stays bounded on this side
(Mosquitto overruns the receive window after a backlog, so the window alone doesn't bound it).
"""

from __future__ import annotations

import logging
import queue
import socket
import ssl
import sys
import threading
import uuid
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial

import paho.mqtt.client as paho
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from booth.readers.decode import MAX_PAYLOAD
from booth.readers.points import valid_filter
from booth.readers.received import Received, SessionLost

_log = logging.getLogger(__name__)
_FULL_WAIT_S = 0.005  # the consumer takes hundreds at a time
QUEUE_SIZE = 2000
_STOP_SECONDS = 5.0  # how long stop() waits for the last acknowledgements to leave


@dataclass(frozen=True)
class Broker:
    """Where the broker is and how to be let in. `ca`, `cert`, `key` are PEM files; any of them switches TLS on.

    `configured_as`: the table of the configuration that it comes from, for sentences.
    """

    host: str
    port: int = 1883
    version: int = 5  # 5, or 3 for MQTT 3.1.1
    username: str | None = None
    password: str | None = None
    ca: str | None = None
    cert: str | None = None
    key: str | None = None
    keepalive_s: int = 60  # shorter, and a stalled consumer costs the connection
    configured_as: str = "mqtt"

    @property
    def tls(self) -> bool:
        return self.ca is not None or self.cert is not None

    def client(self, client_id: str, *, session: bool) -> paho.Client:
        """A paho client that isn't connected yet; with `session` it acknowledges by hand and the broker remembers it."""
        five = self.version == 5
        client = paho.Client(
            paho.CallbackAPIVersion.VERSION2,
            client_id=client_id,
            protocol=paho.MQTTv5 if five else paho.MQTTv311,
            clean_session=None if five else not session,
            manual_ack=session,
        )
        if self.username is not None:
            client.username_pw_set(self.username, self.password)
        if self.tls:
            client.tls_set(ca_certs=self.ca, certfile=self.cert, keyfile=self.key)
        return client


class MqttReader:
    """A persistent QoS 1 session. `get` and `acknowledge` are for one consumer thread, `publish` for any.

    `clock` gives the arrival time in microseconds UTC and is called on the network thread. `last_heard`: when an earlier process
    last received something under this client id, None for never; with it a session that was lost in between is told of too.
    `name` is the broker's in the configuration. `waiting_room`: a queue that several readers share (booth.readers.brokers),
    none of them beyond `queue_size`. Raises ValueError for a filter that is none.
    """

    def __init__(
        self,
        broker: Broker,
        client_id: str,
        filters: Sequence[str],
        clock: Callable[[], int],
        *,
        last_heard: int | None = None,
        name: str = "",
        waiting_room: queue.SimpleQueue[Received | SessionLost] | None = None,
        queue_size: int = QUEUE_SIZE,
        receive_maximum: int = 500,
        session_expiry_s: int = 7 * 24 * 3600,
        reconnect_max_s: int = 10,
    ) -> None:
        wrong = [each for each in filters if not valid_filter(each)]
        if wrong or not filters:  # paho would find out on its network thread, which then ends without a word
            raise ValueError(f"topic filter {wrong}; expected some like 'shop/+/+' or 'plc/#', + and # alone in their level")
        self._broker, self._filters, self._clock = broker, tuple(filters), clock
        self._last_heard, self._name = last_heard, name
        self._answered = False  # whether the broker has said anything on this connection
        self._queue = queue.SimpleQueue() if waiting_room is None else waiting_room  # written in C: a message costs less
        self._queue_size = queue_size  # looked at, then put: where brokers share it, it may hold one more for each
        self._stopping = threading.Event()
        self._connected = threading.Event()
        self._lock = threading.Lock()
        self._generation = 0
        self._receive_maximum, self._session_expiry_s = receive_maximum, session_expiry_s
        self.problem: str | None = None  # why there is no connection, for people
        self._client = client = broker.client(client_id, session=True)
        client.reconnect_delay_set(1, reconnect_max_s)
        client.on_connect, client.on_connect_fail = self._on_connect, self._on_connect_fail
        client.on_subscribe, client.on_message = self._on_subscribe, self._on_message
        client.on_disconnect, client.on_socket_close = self._on_disconnect, self._on_socket_close
        client.on_socket_open = self._on_socket_open

    # For the consumer

    def start(self) -> None:
        """Connect in the background, and again whenever the connection is lost."""
        properties = None
        if self._broker.version == 5:
            properties = Properties(PacketTypes.CONNECT)
            properties.SessionExpiryInterval = self._session_expiry_s
            properties.ReceiveMaximum = self._receive_maximum
        start = {"clean_start": False} if properties else {}
        self._client.connect_async(self._broker.host, self._broker.port, self._broker.keepalive_s, properties=properties, **start)
        self._client.loop_start()

    def stop(self) -> None:
        """Disconnect after the acknowledgements given so far. What is still in the queue the broker delivers again next time."""
        with self._lock:
            self._stopping.set()
            self._generation += 1
        self._flush()
        self._client.disconnect()
        ending = threading.Thread(target=self._client.loop_stop, daemon=True)  # it has no time limit of its own
        ending.start()
        ending.join(_STOP_SECONDS)
        self._connected.clear()

    def _flush(self) -> None:
        """Wait until the broker has read every acknowledgement: it answers a message that was sent after them.

        A socket that is closed with unread messages in it is reset, and the broker may then never see what we sent last.
        """
        if not self.connected:
            return
        fence = self._client.publish(f"shop/fence/{uuid.uuid4()}/stop", b"", qos=1)
        with suppress(RuntimeError, ValueError):  # the connection went just now: the broker delivers again
            fence.wait_for_publish(_STOP_SECONDS / 2)

    def get(self, timeout: float) -> Received | SessionLost | None:
        """The next message in order of arrival, None if none came within `timeout` seconds."""
        try:
            return self._queue.get(timeout=timeout) if timeout > 0 else self._queue.get_nowait()
        except queue.Empty:
            return None

    def acknowledge(self, received: Received) -> None:
        """Tell the broker that a message is committed. In the order in which `get` gave them (MQTT 5 section 4.6)."""
        if received.acknowledge is not None:
            received.acknowledge()

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        """Publish with QoS 1 without waiting. While there is no connection it is kept in memory and sent on the next one."""
        self._client.publish(topic, payload, qos=1, retain=retain)

    @property
    def connected(self) -> bool:
        """Whether there is a connection and the broker keeps for us what is published."""
        return self._connected.is_set()

    @property
    def generation(self) -> int:
        """Counts connections; it changes when one is lost."""
        return self._generation

    def wait_connected(self, timeout: float) -> bool:
        return self._connected.wait(timeout)

    @property
    def waiting(self) -> int:
        """Messages in the queue."""
        return self._queue.qsize()

    # On paho's network thread

    def _on_connect(self, client: paho.Client, _userdata, flags: paho.ConnectFlags, reason, _properties) -> None:
        self._answered = True
        if reason.is_failure:
            self._set_problem(f"the broker at {self._where} refuses us: {reason}; check user, password and client id")
            return
        if not flags.session_present and self._last_heard is not None:
            self._put(SessionLost(self._last_heard, self._clock(), self._name))
        self._last_heard = self._clock()
        self.problem = None
        if flags.session_present:
            self._connected.set()  # the answer to subscribing comes after the backlog, which may wait for the consumer
        # Each time, for the filters may have changed. No local: our own answers aren't news. Retain handling 1: retained
        # messages only where the subscription is new, else each reconnect would bring them all again.
        if self._broker.version == 5:
            options = SubscribeOptions(qos=1, noLocal=True, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB)
            client.subscribe([(each, options) for each in self._filters])
        else:
            client.subscribe([(each, 1) for each in self._filters])

    def _on_subscribe(self, _client: paho.Client, _userdata, _mid, reasons: list, _properties) -> None:
        refused = [each for each, reason in zip(self._filters, reasons, strict=False) if reason.is_failure]
        if refused:
            self._set_problem(
                f"the broker at {self._where} refuses to give us {', '.join(refused)}; allow it in the broker's ACL"
            )
        if len(refused) < len(reasons):
            self._connected.set()

    def _on_connect_fail(self, _client: paho.Client, _userdata) -> None:
        self._set_problem(_why(sys.exc_info()[1], self._broker))  # paho calls it while it handles the exception

    def _on_disconnect(self, _client: paho.Client, _userdata, _flags, reason, _properties) -> None:
        self._connected.clear()
        if self.problem is None and not self._stopping.is_set():  # a refusal has said more
            why = f"connection to the broker at {self._where} lost: {reason}; trying again"
            if not self._answered and self._broker.tls:
                key = self._broker.configured_as
                why = f"the broker at {self._where} hangs up without a word; does it accept the certificate in {key}.cert_file?"
            self._set_problem(why)

    def _on_socket_open(self, _client: paho.Client, _userdata, opened: socket.socket) -> None:
        """Many small packets each way: with Nagle's algorithm each answer would wait 40 ms for the other side's delayed ACK."""
        self._answered = False
        with suppress(OSError, AttributeError):  # a TLS or test socket that can't is only slower
            opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def _on_socket_close(self, _client: paho.Client, _userdata, _socket) -> None:
        with self._lock:
            self._generation += 1

    def _on_message(self, _client: paho.Client, _userdata, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError as problem:
            topic = problem.object.decode("utf-8", "backslashreplace")
        generation = self._generation  # only this thread counts it on while connected
        done = partial(self._acknowledge, generation, message.mid) if message.qos else None
        self._last_heard = arrived = self._clock()
        payload = message.payload[: MAX_PAYLOAD + 1]  # enough to see that it is too large, and memory stays bounded
        self._put(Received(topic, payload, arrived, generation, done, message.retain))

    def _put(self, item: Received | SessionLost) -> None:
        """Wait for room. Not while stopping: then it stays with the broker, unacknowledged."""
        while not self._stopping.is_set():
            if self._queue.qsize() < self._queue_size:
                return self._queue.put(item)
            self._stopping.wait(_FULL_WAIT_S)

    def _acknowledge(self, generation: int, mid: int) -> None:
        """Called on the consumer's thread.

        paho's `ack` only appends to its outgoing deque (atomic) and wakes the network thread, which alone writes to the socket.
        The one danger: message ids start anew on each connection, so an acknowledgement that is late by one connection would
        acknowledge a message that nobody has committed. Therefore check and append happen under one lock, the generation
        advances under it when the socket closes, and paho empties the deque after that and before it connects again.
        """
        with self._lock:
            if generation == self._generation:
                self._client.ack(mid, 1)

    @property
    def _where(self) -> str:
        return f"{self._broker.host}:{self._broker.port}"

    def _set_problem(self, sentence: str) -> None:
        if sentence != self.problem:
            self.problem = sentence
            _log.warning("%s", sentence)


def _why(error: BaseException | None, broker: Broker) -> str:
    """Why there is no connection: the sentence names the key that is to be mended."""
    where, key = f"{broker.host}:{broker.port}", broker.configured_as
    if isinstance(error, ssl.SSLCertVerificationError):
        trusted = f"{key}.ca_file" if broker.ca else "this machine"
        return (
            f"{trusted} doesn't vouch for the certificate of the broker at {where} ({error.verify_message}); put the certificate "
            f"of the authority that signed it into {key}.ca_file, and write {key}.host as the certificate has it"
        )
    if broker.tls and isinstance(error, ssl.SSLError | ConnectionResetError | BrokenPipeError):
        return f"no TLS connection to the broker at {where} ({error}); check that {key}.port is its TLS port"
    return f"no broker answers at {where}; start it, or correct the host and port in the configuration"
