"""One light for each booth, by retained messages on `shop/<booth>/beacon`: a hooded painter hears nothing.

The message is said again every few seconds though nothing has changed: whoever drives the light must treat silence as a fault of
its own and show it. A retained message alone would go on saying `calm` for a logger that died.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Literal

from booth.alarms.announce import announcement
from booth.alarms.book import Alarm
from booth.alarms.condition import RANK
from booth.notify.mqtt import Publish
from booth.times import SECOND, format_time

SAID_AGAIN_US = 5 * SECOND
SILENT_AFTER_US = 15 * SECOND
"""Without a message for this long a light shows its own fault: three in a row didn't come."""

State = Literal["calm", "warning", "alarm", "hazard"]


def beacon(alarms: Iterable[Alarm], booth: str) -> tuple[State, bool]:
    """The worst of what stands at a booth and is for its painter, and whether anybody has still to see it.

    The light doesn't wait for trigger-off as sound and screen do: it is what may speak while the gun is on.
    """
    shown = [one for one in alarms if one.condition.booth == booth and announcement(one, gun_on=True).beacon != "off"]
    if not shown:
        return "calm", False
    worst = max(RANK[one.condition.priority] for one in shown)
    own = [one for one in shown if RANK[one.condition.priority] == worst]
    state = own[0].condition.priority
    return state, any(announcement(one, gun_on=True).beacon == "flashing" for one in own)


class Beacons:
    """Says the state of each booth when it changes, and every SAID_AGAIN_US. Times are the logger's."""

    def __init__(self, publish: Publish, booths: Sequence[str], prefix: str = "shop") -> None:
        self._publish, self._booths, self._prefix = publish, booths, prefix
        self._shown: dict[str, tuple[State, bool, int]] = {}  # with since when
        self._said: dict[str, int] = {}

    def show(self, standing: Iterable[Alarm], now: int) -> None:
        alarms = list(standing)
        for booth in self._booths:
            state, flashing = beacon(alarms, booth)
            known = self._shown.get(booth)
            changed = known is None or known[:2] != (state, flashing)
            if changed:
                since = now if known is None or known[0] != state else known[2]
                self._shown[booth] = (state, flashing, since)
            if changed or now - self._said[booth] >= SAID_AGAIN_US:
                self._say(booth, now)

    def _say(self, booth: str, now: int) -> None:
        state, flashing, since = self._shown[booth]
        message = {"state": state, "flashing": flashing, "since": format_time(since), "time": format_time(now)}
        self._publish(f"{self._prefix}/{booth}/beacon", json.dumps(message).encode(), True)
        self._said[booth] = now
