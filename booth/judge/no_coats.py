"""What people say was no coat: a gun cleaned, a pattern tested, dust blown off. And what became of the coats that were told.

Somebody names the entry that the logger made of it, or says from when to when; then it may come before the logger tells of
anything. What people entered themselves is never taken out by it: that is corrected, with a reason.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from booth.judge.facts import Entry, Fact
from booth.times import parse_time

BY_HEAT = "heat"
"""`told_from` of a step that no gun told of: what people say of guns doesn't touch it."""


class NoCoats:
    """What was said so far, entry `not-a-coat` by entry."""

    def __init__(self, said: Iterable[Entry] = ()) -> None:
        self._by_entry: dict[str, Entry] = {}
        self._by_booth: dict[str, list[tuple[int, int, Entry]]] = defaultdict(list)
        for one in said:
            self.add(one)

    def add(self, said: Entry) -> None:
        body = said.body
        if "corrects" in body:
            self._by_entry[body["corrects"]] = said
        else:
            self._by_booth[body.get("booth", "")].append((parse_time(body["from"]), parse_time(body["to"]), said))

    def copy(self) -> NoCoats:
        twin = NoCoats()
        twin._by_entry.update(self._by_entry)
        twin._by_booth.update((booth, list(said)) for booth, said in self._by_booth.items())
        return twin

    def spans(self, booth: str, start: int, end: int) -> list[tuple[int, int]]:
        """When what the guns of a booth did was no coat, as far as it touches [start, end]."""
        return [(first, last) for first, last, _ in self._by_booth.get(booth, ()) if first <= end and last >= start]

    def voiding(self, entry: Entry) -> Entry | None:
        """What says that this was no coat."""
        if entry.kind not in ("step-start", "step-end") or entry.channel not in ("inferred", "signalled"):
            return None
        if entry.id in self._by_entry:
            return self._by_entry[entry.id]
        if entry.kind == "step-end" or entry.channel == "signalled" or entry.body.get("told_from") == BY_HEAT:
            return None
        by_time = self._by_booth.get(entry.body.get("booth", ""), ())
        return next((said for first, last, said in by_time if first <= entry.effective <= last), None)


def as_they_stand(facts: Iterable[Fact], vehicle: str) -> dict[int, str | None]:
    """What became of the steps that were inferred: first moment -> the step by now, None where it was no coat of this van."""
    found: dict[int, str | None] = {}
    begun: dict[str, int] = {}
    for fact in facts:
        entry = fact.entry
        if entry.channel == "inferred" and entry.kind == "step-start":
            found[entry.effective] = None if fact.void or fact.body["vehicle"] != vehicle else fact.body["step"]
            begun[entry.body["step"]] = entry.effective
        elif entry.channel == "inferred" and entry.kind == "step-end" and fact.void and entry.body["step"] in begun:
            found[begun[entry.body["step"]]] = None
    return found
