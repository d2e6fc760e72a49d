"""Alarms as retained messages: a screen that connects an hour later sees at once what stands."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any

Publish = Callable[[str, bytes, bool], None]  # topic, payload, retain


class MqttAlarms:
    """`publish(topic, payload, retain)` sends with QoS 1 and keeps what it can't send yet, as `MqttReader.publish` does.

    `retained(filter)` lists the topics that the broker has kept. `prefix` is the shop's first topic level.
    """

    def __init__(self, publish: Publish, retained: Callable[[str], Iterable[str]], prefix: str = "shop") -> None:
        self._publish = publish
        self._retained = retained
        self._filter = f"{prefix}/+/alarm/+"

    def alarm(self, topic: str, message: Mapping[str, Any]) -> None:
        """Publish the alarm as it stands; one that is back to normal is cleared."""
        payload = b"" if message["state"] == "normal" else json.dumps(message, ensure_ascii=False).encode()
        self._publish(topic, payload, True)

    def clear_stale(self, standing: Collection[str]) -> list[str]:
        """After a restart: clear every alarm topic that isn't among those of the `standing` alarms; returns the cleared ones.

        An alarm may have gone while the logger was down, or the broker may have brought back an older state of its own; nobody
        would ever clear it. Call it before the standing alarms are published, or with all of them. Raises TimeoutError where
        the broker doesn't answer.
        """
        stale = sorted(set(self._retained(self._filter)) - set(standing))
        for topic in stale:
            self._publish(topic, b"", True)
        return stale
