"""Alarms as log lines: one for each change of state, so that the system's own log tells the same story."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import UTC
from typing import Any

from booth.notify.console import alarm_line

_LEVELS = {"warning": logging.WARNING, "alarm": logging.ERROR, "hazard": logging.CRITICAL}


class LogAlarms:
    """Raised alarms at their priority's level; what was acknowledged, shelved or is normal again at INFO. Times UTC."""

    def __init__(self, logger: logging.Logger | None = None) -> None:
        self._logger = logger or logging.getLogger("booth.alarms")

    def alarm(self, topic: str, message: Mapping[str, Any]) -> None:
        raised = message["state"] == "unacknowledged"
        level = _LEVELS.get(message["priority"], logging.ERROR) if raised else logging.INFO
        self._logger.log(level, "%s %s", topic, alarm_line(message, UTC))
