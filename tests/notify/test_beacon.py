"""The light at the booth: the worst that stands, said on every change and again every few seconds."""

from __future__ import annotations

import json

from booth.alarms.book import Alarm
from booth.alarms.condition import Condition
from booth.alarms.states import State
from booth.notify.beacon import SAID_AGAIN_US, SILENT_AFTER_US, Beacons, beacon
from booth.readers.decode import decode
from booth.readers.points import PointMap
from booth.times import SECOND, format_time


def alarm(priority: str, state: State = State.UNACKNOWLEDGED, booth: str = "south", audience: str = "painter") -> Alarm:
    condition = Condition(
        f"{priority}/{booth}", booth, "x", priority, "told", 0, audience=audience, immediate=priority == "hazard"
    )
    return Alarm(condition, state, 0, 0)


def test_the_worst_that_stands_and_whether_it_was_seen() -> None:
    assert beacon([], "south") == ("calm", False)
    assert beacon([alarm("warning"), alarm("alarm")], "south") == ("alarm", True)
    assert beacon([alarm("alarm", State.ACKNOWLEDGED), alarm("warning")], "south") == ("alarm", False)
    assert beacon([alarm("hazard"), alarm("alarm", State.ACKNOWLEDGED)], "south") == ("hazard", True)


def test_neither_other_booths_nor_maintenance_nor_the_shelf() -> None:
    others = [alarm("alarm", booth="north"), alarm("alarm", audience="maintenance"), alarm("alarm", State.SHELVED)]
    assert beacon(others, "south") == ("calm", False)


def test_said_on_each_change_and_again_while_nothing_changes() -> None:
    said: list[tuple[str, dict, bool]] = []
    beacons = Beacons(lambda topic, text, retain: said.append((topic, json.loads(text), retain)), ["south"])
    for second in range(0, 31):
        beacons.show([alarm("alarm")] if second >= 12 else [], second * SECOND)
    assert {topic for topic, _, _ in said} == {"shop/south/beacon"} and all(retain for *_, retain in said)
    assert [(body["state"], body["since"]) for _, body, _ in said if body["state"] == "alarm"][0] == (
        *("alarm", format_time(12 * SECOND)),
    )
    times = [body["time"] for _, body, _ in said]
    assert format_time(12 * SECOND) in times  # on the change itself
    assert times == sorted(set(times))
    assert SAID_AGAIN_US <= 10 * SECOND < SILENT_AFTER_US  # silence for ten seconds is a fault of the light's own


def test_since_is_kept_when_it_is_only_acknowledged() -> None:
    said: list[dict] = []
    beacons = Beacons(lambda _topic, text, _retain: said.append(json.loads(text)), ["south"])
    beacons.show([alarm("alarm")], 10 * SECOND)
    beacons.show([alarm("alarm", State.ACKNOWLEDGED)], 12 * SECOND)
    raised = format_time(10 * SECOND)
    assert [(one["since"], one["flashing"]) for one in said] == [(raised, True), (raised, False)]


def test_what_a_broker_sends_back_to_us_is_no_reading() -> None:
    shop = PointMap(points={}, booths=frozenset({"south"}))
    assert decode("shop/south/beacon", b'{"state": "calm"}', 0, shop) == ()
