"""Several brokers as one reader: one bounded queue for everything received, in the order of arrival.

Each message carries how to acknowledge it, and so is acknowledged to the connection that it came from. What is published goes to
all of them: an alarm must be seen whichever broker a screen is on, and a broker that is down gets it when it is back.
"""

from __future__ import annotations

import queue
from collections.abc import Callable, Sequence

from booth.readers.mqtt import MqttReader
from booth.readers.received import Received, SessionLost

Room = queue.SimpleQueue[Received | SessionLost]


class Brokers:
    """The readers that `make` makes, given the queue that they share. Used as an MqttReader is."""

    def __init__(self, make: Callable[[Room], Sequence[MqttReader]]) -> None:
        self._room: Room = queue.SimpleQueue()
        self.readers = tuple(make(self._room))

    def start(self) -> None:
        """Connect to each in the background."""
        for reader in self.readers:
            reader.start()

    def stop(self) -> None:
        """Disconnect from each after the acknowledgements given so far."""
        for reader in self.readers:
            reader.stop()

    def get(self, timeout: float) -> Received | SessionLost | None:
        """The next message of any broker in order of arrival, None if none came within `timeout` seconds."""
        return self.readers[0].get(timeout)  # the queue is one

    def acknowledge(self, received: Received) -> None:
        """Tell the broker that brought it that a message is committed."""
        if received.acknowledge is not None:
            received.acknowledge()

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        """Publish to every broker without waiting."""
        for reader in self.readers:
            reader.publish(topic, payload, retain)

    @property
    def connected(self) -> bool:
        """Whether all are."""
        return all(reader.connected for reader in self.readers)

    @property
    def problem(self) -> str | None:
        """Why one of them isn't, for people."""
        return next((reader.problem for reader in self.readers if reader.problem is not None), None)

    @property
    def waiting(self) -> int:
        """Messages in the queue."""
        return self._room.qsize()
