"""The retained message on `shop/<booth>/alarm/<id>`: all that a screen needs to show one alarm."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import quote

from booth.alarms.book import Alarm
from booth.alarms.condition import Condition
from booth.alarms.transition import window_body
from booth.judge.health.faults import WORDS as FAULTS
from booth.judge.needs import DECIDING as AIR_MEASURES
from booth.shop.measures import LIMITED
from booth.shop.shop import Shop
from booth.times import SECOND, format_time

ABOUT_AIR = {*LIMITED, *AIR_MEASURES, "airflow", "purge_volumes", "mode"} - {"part_temperature"}
"""Kinds of requirement: the climate's, the booth's flow and mode, and spraying without air."""


def topic(alarm: Alarm) -> str:
    return f"shop/{alarm.condition.booth}/alarm/{topic_id(alarm.condition.id)}"


def topic_id(alarm_id: str) -> str:
    """The alarm's id as one topic level: `TV-4103.1.bake.bake_start`.

    `/`, `+`, `#` and NUL can't be in a topic level (MQTT 5, 4.7). A slash becomes a dot and everything else unusual is
    percent-encoded, a dot too, so that two ids never share a topic.
    """
    return quote(alarm_id, safe="/").replace(".", "%2E").replace("/", ".")


def about_air(condition: Condition, shop: Shop) -> bool:
    """Whether it tells of air that people breathe, so that nobody takes the message for a word on their safety.

    By the last part of its requirement (`clear-1/relative_humidity`, `south:air_velocity`), and for a fault of an instrument by
    what that measures.
    """
    if condition.requirement in FAULTS:
        booth, names = shop.booths.get(condition.booth), condition.id.split("/")[1:-1]
        points = [booth.points[name] for name in names if name in booth.points] if booth is not None else []
        return not names or any(point.measure in AIR_MEASURES for point in points)
    return re.split("[/:]", condition.requirement)[-1] in ABOUT_AIR


def payload(alarm: Alarm, cautions: str = "", current: Condition | None = None) -> dict[str, Any]:
    """The message's JSON: times RFC 3339, `overrun` in seconds.

    `current` is the condition as it stands now, where it says more than the snapshot of the last transition (an overrun
    that grows). `cautions` is the shop's text; give it with every alarm about air.
    """
    condition = current or alarm.condition
    shelved_until = alarm.shelved_until
    message = {
        "alarm": condition.id,
        "booth": condition.booth,
        "vehicle": condition.vehicle,
        "round": condition.round,
        "step": condition.step,
        "requirement": condition.requirement,
        "priority": condition.priority,
        "audience": condition.audience,
        "state": alarm.state.value,
        "raised": format_time(alarm.raised),
        "shelved_until": None if shelved_until is None else format_time(shelved_until),
        "sentence": condition.sentence,
        "what_to_do": condition.what_to_do,
        "window": condition.window and window_body(condition.window),
        "overrun": None if condition.overrun_us is None else condition.overrun_us / SECOND,
    }
    return {**message, "cautions": cautions} if cautions else message
