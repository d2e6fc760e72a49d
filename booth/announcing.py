"""Alarms on their way out: to every notifier, with the cautions where they are about air, and also while the disk refuses."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from typing import Protocol

from booth.alarms.book import Alarm, AlarmBook
from booth.alarms.payload import about_air, payload, topic
from booth.alarms.trouble import trouble, trouble_topic
from booth.shop.shop import Shop

log = logging.getLogger(__name__)


class Notifier(Protocol):
    """Where alarms go out (booth.notify)."""

    def alarm(self, topic: str, message: dict) -> None: ...


class Announcer:
    """Tells notifiers what changed. One that fails must not stop the others, or the logging."""

    def __init__(self, shop: Shop, notifiers: Callable[[], Sequence[Notifier]]) -> None:
        self._shop, self._notifiers = shop, notifiers
        self._unwritten: dict[str, Alarm] = {}  # told while the journal could not be written

    def alarm(self, alarm: Alarm, stands: bool) -> None:
        message = payload(alarm, " ".join(self._shop.cautions) if about_air(alarm.condition, self._shop) else "")
        if not stands:
            message["state"] = "normal"  # nothing to show any more: the retained topic is cleared
        self._send(topic(alarm), message)

    def trouble(self, what: str, sentence: str, since: int, over: bool) -> None:
        """What is wrong with the logger itself."""
        self._send(trouble_topic(what), trouble(what, sentence, since, over))

    def unwritten(self, would_be: AlarmBook, journalled: AlarmBook) -> None:
        """What would be an alarm now if the disk could take it, each change once. The journal has it once there is space."""
        for alarm_id, alarm in would_be.standing().items():
            known = self._unwritten.get(alarm_id) or journalled.alarms.get(alarm_id)
            if known is None or (known.state, known.condition.rank) != (alarm.state, alarm.condition.rank):
                self._unwritten[alarm_id] = alarm
                self.alarm(alarm, True)

    def settle(self, journalled: AlarmBook) -> None:
        """The journal can be written again, and its book is what counts: what it doesn't have is taken back."""
        for alarm_id, alarm in self._unwritten.items():
            if alarm_id not in journalled.standing():
                self.alarm(alarm, False)
        self._unwritten = {}

    def _send(self, where: str, message: dict) -> None:
        for notifier in self._notifiers():
            try:
                notifier.alarm(where, message)
            except Exception:
                log.exception("an alarm could not be sent by %s", type(notifier).__name__)
