"""What is typed into the forms under a record, as events; shape, names and permission are judged elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from booth.shop.events import EventError
from booth.store import Entry
from booth.times import format_time
from booth.web.desk.moments import Moments

KINDS = ("concession", "correction", "release", "reopen", "note")
TAKE_AWAY = "none"
FACTS = {
    "time": "when it happened",
    "vehicle": "which van",
    "step": "which step",
    "zone": "which zone",
    "mix": "which mix",
    "result": "the result: passed, failed or repaired",
    "lots": "all lots of a mix, as component=number, component=number",
    "pot": "which pot",
    "value": "the film's thickness, with its unit",
}
"""What a correction can set, in the order of the form. Loads and values of checks are corrected by `booth event`."""


def event_of(vehicle: str, form: Mapping[str, str], moments: Moments) -> dict[str, Any]:
    """The event of a form. Raises EventError, MomentError."""
    kind = form.get("event", "")
    if kind not in KINDS:
        raise EventError(f"{kind!r} is not something that this page takes; write one of {', '.join(KINDS)}")
    event: dict[str, Any] = {"event": kind, "id": form.get("id") or None}
    if kind == "correction":
        return event | {"corrects": form.get("corrects", ""), "set": _set(form, moments), "reason": form.get("reason", "")}
    event["vehicle"] = vehicle
    if kind == "note":
        return event | {"text": form.get("text", "")}
    if kind == "release" and not form.get("reason", "").strip():
        raise EventError("release needs a reason; write what you looked at, for whoever reads it in two years")
    if kind == "concession":
        event["requirement"] = form.get("requirement", "")
    return event | {"reason": form.get("reason", "")}


def _set(form: Mapping[str, str], moments: Moments) -> dict[str, Any]:
    """The one fact that a correction changes."""
    fact, value = form.get("fact", ""), form.get("value", "").strip()
    if fact not in FACTS:
        raise EventError(f"correction: {fact!r} is not a fact that this form changes; choose one of {', '.join(FACTS)}")
    if not value:
        raise EventError(f"correction: write what {fact} should read, or {TAKE_AWAY} to take it away")
    if fact == "time":
        return {fact: format_time(moments.read(value), moments.zone)}
    if fact == "lots":
        return {fact: dict(_lot(part) for part in value.split(","))}
    return {fact: None if value == TAKE_AWAY else value}


def _lot(part: str) -> tuple[str, str]:
    component, equals, number = (one.strip() for one in part.partition("="))
    if not equals or not component or not number:
        wanted = "component=number; write for example resin=CC-1876, hardener=HD-0461"
        raise EventError(f"correction: lot {part.strip()!r} is not {wanted}")
    return component, number


def entry_choices(entries: Iterable[Entry], moments: Moments) -> list[tuple[str, str]]:
    """(id, what it says) of the entries that a correction can be about."""
    return [(one.id, f"{moments.at(one.effective, seconds=True)}  {_said(one)}") for one in entries]


def _said(entry: Entry) -> str:
    body = entry.body
    parts = [body.get(name) for name in ("step", "zone", "check", "mix", "result", "value")]
    by = entry.private.get("by")
    return " ".join([entry.kind, *(part for part in parts if part), *([f"by {by}"] if by else [])])
