"""Alarms as plain lines, for a terminal or a file that somebody reads along."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from datetime import UTC, tzinfo
from typing import Any, TextIO

from booth.times import clock, parse_time


class ConsoleAlarms:
    """Writes to `out` (standard output); times on the site's wall clock."""

    def __init__(self, zone: tzinfo = UTC, out: TextIO | None = None) -> None:
        self._zone = zone
        self._out = out

    def alarm(self, topic: str, message: Mapping[str, Any]) -> None:
        """Raises nothing: a console that is gone must not stop the logger."""
        try:
            print(alarm_line(message, self._zone), file=self._out or sys.stdout, flush=True)
        except (OSError, ValueError):  # a closed pipe, a closed file
            self._out = None


def alarm_line(message: Mapping[str, Any], zone: tzinfo) -> str:
    """`11:02:30 ALARM north TV-4104 base-1, unacknowledged: sentence what to do`, one line whatever the texts hold."""
    raised = clock(parse_time(message["raised"]), zone, seconds=True)
    about = " ".join(str(message[key]) for key in ("booth", "vehicle", "step") if message.get(key))
    texts = " ".join(str(message[key]) for key in ("sentence", "what_to_do") if message.get(key))
    return " ".join(f"{raised} {message['priority'].upper()} {about}, {message['state']}: {texts}".split())
