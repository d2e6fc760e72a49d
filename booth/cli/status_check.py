"""What a monitoring system wants to know of `booth status`: whether anything is wrong that people at the booths can't see."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from booth.times import MINUTE, SECOND, duration_text, parse_time

SILENT_US = 10 * MINUTE
MIRROR_BEHIND_S = 3600.0


def complaints(status: dict[str, Any]) -> Iterator[str]:
    """Sentences about a status as `booth status --json` prints it: nothing is heard of any booth, or the mirror is far behind."""
    at = parse_time(status["at"])
    heard = [parse_time(booth["last_heard"]) for booth in status["booths"].values() if booth["last_heard"] is not None]
    if not heard:
        yield "no booth was ever heard; look at instruments, network, broker, logger and disk"
    elif at - max(heard) > SILENT_US:
        silence = duration_text(at - max(heard))
        yield f"no booth was heard for {silence}; look at instruments, network, broker, logger and disk"
    mirror = status["mirror"]
    if mirror is not None and mirror["seconds_behind"] > MIRROR_BEHIND_S:
        behind = duration_text(round(mirror["seconds_behind"]) * SECOND)
        yield f"the mirror is {behind} behind: {mirror['problem'] or 'it says no reason; is its process there?'}"
