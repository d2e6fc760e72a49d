"""Care that is due, live: folded out of the journal anew only when somebody entered some, and looked at once a minute."""

from __future__ import annotations

from booth.alarms.care_due import care_conditions
from booth.alarms.condition import Condition
from booth.judge.care import KINDS, CareBook, due
from booth.shop.shop import Shop
from booth.store import Entry
from booth.times import MINUTE


class LiveCare:
    """`hear` every entry; `conditions` as of a moment."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._entries: list[Entry] = []
        self._known_since: int | None = None  # when the first configuration was written down
        self._kept: tuple[int, list[Condition]] | None = None

    def hear(self, entry: Entry) -> None:
        if entry.kind == "config" and self._known_since is None:
            self._known_since = entry.effective
        elif entry.kind in (*KINDS, "correction"):
            self._entries.append(entry)
            self._kept = None

    def conditions(self, as_of: int) -> list[Condition]:
        minute = as_of // MINUTE
        if self._kept is None or self._kept[0] != minute:
            found = due(self._shop, CareBook(self._entries), as_of)
            self._kept = minute, list(care_conditions(found, self._known_since or as_of, as_of))
        return self._kept[1]
