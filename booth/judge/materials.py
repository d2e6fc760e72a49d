"""What was sprayed and what else was used, folded out of the journal: each mix and each liquid, with its volume if told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from booth.judge.facts import Entry, Fact
from booth.units import parse

BOUGHT = "purchase"


@dataclass(frozen=True)
class Use:
    """`litres` None: nobody entered it. `coating` is the file that its content stands in, None where there is none."""

    time: int
    booth: str | None
    product: str
    use: str  # coating, thinner, cleaner, or purchase
    coating: str | None
    litres: float | None
    lots: Mapping[str, str] = field(default_factory=dict)
    mix: str | None = None


def uses(entries: Iterable[Entry]) -> list[Use]:
    """Every mix, use and purchase with its corrections, oldest first. A mix counts for the booth whose coats named it."""
    own: list[Entry] = []
    steps: list[Entry] = []
    corrections: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.kind == "correction":
            corrections[entry.body["corrects"]].append(entry)
        elif entry.kind in ("mix", "used", BOUGHT):
            own.append(entry)
        elif entry.kind == "step-start":
            steps.append(entry)
    facts = sorted((_fact(one, corrections) for one in own), key=lambda fact: fact.time)
    sprayed = [fact for fact in (_fact(one, corrections) for one in steps) if fact.body.get("mix") and fact.body.get("booth")]
    return [_use(fact, _where(fact, facts, sprayed)) for fact in facts]


def _fact(entry: Entry, corrections: Mapping[str, list[Entry]]) -> Fact:
    own = sorted(corrections.get(entry.id, ()), key=lambda one: (one.effective, one.seq))
    return Fact(entry, [one.body["set"] for one in own], False)


def _where(fact: Fact, facts: list[Fact], sprayed: list[Fact]) -> str | None:
    """The booth of the coats that named a mix before its name came again; where nobody did, the one it was entered in."""
    name = fact.body.get("mix")
    again = min((one.time for one in facts if name and one.body.get("mix") == name and one.time > fact.time), default=None)
    until = 2**62 if again is None else again
    used = [one for one in sprayed if name and one.body["mix"] == name and fact.time <= one.time < until]
    return ", ".join(sorted({one.body["booth"] for one in used})) or fact.body.get("booth")


def _use(fact: Fact, booth: str | None) -> Use:
    body, volume = fact.body, fact.body.get("volume")
    litres = None if volume is None else parse(volume, "liquid_volume")
    if fact.entry.kind == "mix":
        coating = body["coating"]
        return Use(fact.time, booth, coating, "coating", coating, litres, dict(body.get("lots", {})), body["mix"])
    lots = {body.get("component") or body["product"]: body["lot"]} if body.get("lot") else {}
    use = body["use"] if fact.entry.kind == "used" else BOUGHT
    return Use(fact.time, booth, body["product"], use, body.get("coating"), litres, lots)
