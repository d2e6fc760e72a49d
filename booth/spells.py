"""Spells of spraying in a booth, out of the readings of its guns and what people say of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from booth.judge.gather import Readings
from booth.judge.infer import Stretch, gun_bursts
from booth.judge.ledger import Ledger
from booth.shop.room import Booth


def spells(
    booth_id: str,
    booth: Booth,
    span: tuple[int, int | None],
    left: int | None,
    ledger: Ledger,
    readings: Readings,
    until: int,
    cuts: Sequence[int] = (),
) -> Iterable[Stretch]:
    """Spells of spraying in a span of time; `left`: when the van that it is about left the booth."""
    start, end = span[0], until if span[1] is None else min(until, span[1])
    if start >= end:
        return ()
    names, rule = booth.measuring("gun_flow"), booth.inference
    guns = [readings.evidence(f"{booth_id}/{name}", start, end + 1, booth.points[name].max_age) for name in names]
    # When the van has left no pause can end any more: what was its last spraying is over.
    known_to = end + rule.longest_pause + 1 if end == left else end
    times = (rule.shortest_coat, rule.longest_pause)
    bursts = gun_bursts(guns, booth.hazard.spraying_flow, *times, known_to, ledger.no_coats(booth_id, start, end), cuts)
    return [one if one.end is None else replace(one, end=min(one.end, end)) for one in bursts]
