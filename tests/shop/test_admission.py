"""Names in an event that the demo shop doesn't have are refused with the names that it has."""

from __future__ import annotations

from typing import Any

import pytest
from demo_shop import shop

from booth.shop.admission import objection

VAN = {"vehicle": "TV-4101"}
SENT = {"id": "6f1c1e0e-5d0a-4c56-8a6f-6a1f0d0b7c11", "by": "badge-17", "time": "2026-07-13T11:05:00Z"}

STEPS = "bake, base-1, base-flash, clear-1, clear-2, clear-flash, cool, inspect, purge, sealer, sealer-flash"


@pytest.mark.parametrize(
    "event",
    [
        {"event": "job-open", "process": "standard"} | VAN,
        {"event": "job-open", "process": "standard", "vehicle": "a van that nobody has seen"},
        {"event": "step-start", "step": "clear-1", "booth": "north"} | VAN,
        {"event": "mix", "mix": "M-31", "coating": "epoxy-sealer", "booth": "mix-room"},
        {"event": "load", "booth": "south", "vans": [VAN | {"guns": ["gun-1"], "probes": {"part-1": "lower"}}]},
        {"event": "load", "booth": "south", "vans": []},
    ],
)
def test_an_event_of_this_shop_is_taken(event: dict[str, Any]) -> None:
    assert objection(SENT | event, shop()) is None


@pytest.mark.parametrize(
    ("event", "sentence"),
    [
        (
            {"event": "job-open", "process": "deluxe"} | VAN,
            "job-open: 'deluxe' is not a process of this shop; write one of high-roof, standard",
        ),
        ({"event": "hold", "step": "clear-3"} | VAN, f"hold: 'clear-3' is not a step of this shop; write one of {STEPS}"),
        (
            {"event": "mix", "mix": "M-1", "coating": "enamel"},
            "mix: 'enamel' is not a coating of this shop; write one of epoxy-sealer, two-pack-clear, waterborne-base",
        ),
        (
            {"event": "job-close", "booth": "east"} | VAN,
            "job-close: 'east' is not a booth of this shop; write one of mask-room, mix-room, north, south",
        ),
        (
            {"event": "load", "booth": "mask-room", "vans": [VAN | {"probes": {"part-1": "lower"}}]},
            "load: 'part-1' is not a point of this booth; write one of air-temperature, humidity",
        ),
        ({"event": "job-open"} | VAN, "job-open: process is missing"),
    ],
)
def test_a_name_that_the_shop_does_not_have_is_refused(event: dict[str, Any], sentence: str) -> None:
    assert objection(SENT | event, shop()) == sentence
