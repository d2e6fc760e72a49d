"""What goes out: beacon and sound, topic and message."""

from __future__ import annotations

import json

import pytest
from alarm_conditions import at, humid, late_bake, no_air
from hypothesis import given
from hypothesis import strategies as st

from booth.alarms.announce import Announcement, announcement
from booth.alarms.book import Alarm
from booth.alarms.payload import payload, topic, topic_id
from booth.alarms.states import State
from booth.judge.finding import Window


def alarm(condition=None, state: str = "unacknowledged", **other) -> Alarm:
    return Alarm(condition or humid(0), State(state), at(40), at(30), **other)


@pytest.mark.parametrize(
    ("state", "gun_off", "gun_on"),
    [
        ("normal", ("off", False, False), ("off", False, False)),
        ("unacknowledged", ("flashing", True, True), ("flashing", False, False)),
        ("acknowledged", ("steady", False, False), ("steady", False, False)),
        ("returned_unacknowledged", ("flashing", False, True), ("flashing", False, False)),
        ("shelved", ("off", False, False), ("off", False, False)),
        ("out_of_service", ("off", False, False), ("off", False, False)),
    ],
)
def test_with_the_gun_on_only_the_beacon_speaks(state: str, gun_off: tuple, gun_on: tuple) -> None:
    assert announcement(alarm(state=state), gun_on=False) == Announcement(*gun_off)
    assert announcement(alarm(state=state), gun_on=True) == Announcement(*gun_on)


def test_a_hazard_does_not_wait_for_the_trigger() -> None:
    assert announcement(alarm(no_air(0)), gun_on=True) == Announcement("flashing", True, True)


def test_maintenance_is_not_called_at_the_booth() -> None:
    assert announcement(alarm(humid(0, audience="maintenance")), gun_on=True) == Announcement("off", False, True)


def test_message() -> None:
    window = Window(at(600), at(1800), 15_000_000, 20_500_000)
    condition = late_bake(0, window=window, overrun_us=840_500_000, sentence="Late.", what_to_do="Air-dry.")
    assert json.loads(json.dumps(payload(alarm(condition, state="shelved", shelved_until=at(3600)), "An aid only."))) == {
        "alarm": "TV-4103/1/bake/bake_start",
        "booth": "south",
        "vehicle": "TV-4103",
        "round": 1,
        "step": "bake",
        "requirement": "bake_start",
        "priority": "alarm",
        "audience": "painter",
        "state": "shelved",
        "raised": "2026-07-13T00:00:30.000Z",
        "shelved_until": "2026-07-13T01:00:00.000Z",
        "sentence": "Late.",
        "what_to_do": "Air-dry.",
        "window": {
            "earliest": "2026-07-13T00:10:00.000Z",
            "latest": "2026-07-13T00:30:00.000Z",
            "sooner_s": 15.0,
            "later_s": 20.5,
        },
        "overrun": 840.5,
        "cautions": "An aid only.",
    }


def test_message_without_window_and_cautions_and_with_what_is_known_now() -> None:
    message = payload(alarm(), current=humid(0, sentence="Now 2.1 K."))
    assert (message["window"], message["overrun"], message["sentence"]) == (None, None, "Now 2.1 K.")
    assert "cautions" not in message


def test_topic() -> None:
    assert topic(alarm(late_bake(0))) == "shop/south/alarm/TV-4103.1.bake.bake_start"
    assert topic_id("a.b/c+#\0") == "a%2Eb.c%2B%23%00"


@given(st.text(min_size=1), st.text(min_size=1))
def test_every_id_is_one_topic_level_of_its_own(one: str, other: str) -> None:
    """MQTT 5, 4.7: a topic name has no wildcard and no NUL; a slash would begin another level."""
    assert not set("/+#\0") & set(topic_id(one))
    assert (topic_id(one) == topic_id(other)) == (one == other)
