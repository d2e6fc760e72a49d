"""Conditions made up for these tests; moments are small numbers of seconds after an invented midnight."""

from __future__ import annotations

from typing import Any

from booth.alarms.condition import Condition
from booth.times import SECOND, parse_time

MIDNIGHT = parse_time("2026-07-13T00:00:00Z")


def at(seconds: float) -> int:
    return MIDNIGHT + round(seconds * SECOND)


def humid(since: float, until: float | None = None, **other: Any) -> Condition:
    """A climate condition of an invented van."""
    facts: dict[str, Any] = {
        "id": "TV-4104/1/base-1/margin",
        "booth": "north",
        "vehicle": "TV-4104",
        "round": 1,
        "step": "base-1",
        "requirement": "margin",
        "priority": "alarm",
        "sentence": "The dew-point margin is 2.4 K, at least 3 K is needed.",
        "what_to_do": "Stop, dry the air, scuff.",
        "since": at(since),
        "until": None if until is None else at(until),
    }
    return Condition(**{**facts, **other})


def late_bake(since: float, **other: Any) -> Condition:
    """A missed requirement: latched."""
    facts = {"id": "TV-4103/1/bake/bake_start", "booth": "south", "requirement": "bake_start", "latched": True}
    return humid(since, **{**facts, "vehicle": "TV-4103", "step": "bake", **other})


def no_air(since: float, until: float | None = None, **other: Any) -> Condition:
    """Wet work and no fan."""
    return humid(since, until, **{"id": "north/airflow", "priority": "hazard", "immediate": True, **other})
