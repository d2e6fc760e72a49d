"""What people say was no coat: a gun cleaned, a pattern tested, dust blown off. And what became of the coats that were told.

Somebody names the entry that the logger made of it, or says from when to when; then it may come before the logger tells of
anything. What people entered themselves is never taken out by it: that is corrected, with a reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from booth.judge.facts import Entry, Fact
from booth.times import parse_time

NoCoats = Mapping[str, Sequence[Entry]]
"""Entries `not-a-coat` by what they are about: the id of an entry, or a booth."""


def about(said: Entry) -> str:
    return said.body.get("corrects") or said.body.get("booth", "")


def span(said: Entry) -> tuple[int, int]:
    """From when to when, of one that says so."""
    return parse_time(said.body["from"]), parse_time(said.body["to"])


def spans(no_coats: NoCoats, booth: str) -> list[tuple[int, int]]:
    """When what the guns did in a booth was no coat."""
    return [span(said) for said in no_coats.get(booth, ())]


def voiding(entry: Entry, no_coats: NoCoats) -> Entry | None:
    """What says that this was no coat."""
    if entry.kind not in ("step-start", "step-end") or entry.channel not in ("inferred", "signalled"):
        return None
    if entry.id in no_coats:
        return no_coats[entry.id][-1]
    by_time = no_coats.get(entry.body.get("booth", ""), ())
    if entry.kind == "step-end" or entry.channel == "signalled" or not by_time:
        return None
    return next((said for said in by_time if span(said)[0] <= entry.effective <= span(said)[1]), None)


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
