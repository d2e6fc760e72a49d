"""Does an event make sense in this shop? Shape first, then the names it uses."""

from __future__ import annotations

from typing import Any

from booth.shop.events import Event, EventError, read_event
from booth.shop.room import Booth
from booth.shop.shop import Shop


def objection(raw: dict[str, Any], shop: Shop) -> str | None:
    """The sentence to refuse an event with, None where it can be taken."""
    try:
        return unknown_name(read_event(raw, raw.get("booth"), 0), shop)
    except EventError as problem:
        return str(problem)


def unknown_name(event: Event, shop: Shop) -> str | None:
    """A name in the event that the shop doesn't have. A vehicle is never unknown: its job may be opened later."""
    body = event.body
    steps = {step.step for process in shop.processes.values() for step in process.steps}
    wanted = [
        ("process", body.get("process"), shop.processes),
        ("coating", body.get("coating"), shop.coatings),
        ("booth", body.get("booth"), shop.booths),
        ("step", body.get("step"), steps),
    ]
    for what, name, known in wanted:
        if name is not None and name not in known:
            return f"{event.kind}: {name!r} is not a {what} of this shop; write one of {', '.join(sorted(known))}"
    return _unknown_point(event, shop)


def _unknown_point(event: Event, shop: Shop) -> str | None:
    booth = shop.booths.get(event.body.get("booth", ""))
    named = [event.body["point"]] if event.kind == "calibration" else []
    unknown_filter = _unknown_filter(event, booth)
    if unknown_filter is not None:
        return unknown_filter
    for van in event.body.get("vans", ()):
        named += [*van.get("probes", {}), *van.get("guns", ())]
    for name in named:
        if booth is None or name not in booth.points:
            points = ", ".join(sorted(booth.points)) if booth else "a booth's points, with the booth named"
            return f"{event.kind}: {name!r} is not a point of this booth; write one of {points}"
    return None


def _unknown_filter(event: Event, booth: Booth | None) -> str | None:
    """A change of a filter that the booth's file doesn't have would start no clock, and nobody would notice."""
    if event.kind != "filter-changed":
        return None
    filters = booth.ventilation.filters if booth is not None and booth.ventilation is not None else {}
    if event.body["filter"] in filters:
        return None
    known = ", ".join(filters) or "a booth's filter, once its file has a table [ventilation.filters.<name>]"
    return f"{event.kind}: {event.body['filter']!r} is not a filter of this booth; write one of {known}"
