"""What is wrong with the logger itself, as an alarm message. It is never journalled: the journal may be what fails."""

from __future__ import annotations

from typing import Any

from booth.times import format_time

PLACE = "logger"  # stands where a booth's name does


def trouble_topic(what: str) -> str:
    return f"shop/{PLACE}/alarm/{what}"


def trouble(what: str, sentence: str, since: int, over: bool) -> dict[str, Any]:
    """The message, with the keys of booth.alarms.payload; `what` is recording, judging or clock, `since` in microseconds."""
    return {
        "alarm": f"{PLACE}/{what}",
        "booth": PLACE,
        "vehicle": None,
        "round": None,
        "step": None,
        "requirement": what,
        "priority": "alarm",
        "audience": "maintenance",
        "state": "normal" if over else "unacknowledged",
        "raised": format_time(since),
        "shelved_until": None,
        "sentence": sentence,
        "what_to_do": "",
        "window": None,
        "overrun": None,
    }
