"""Events that people and machines put into the journal: taken apart into what is personal and what is not.

Names of people and free text go into the entry's private part (salted commitments, so that a redacted copy still verifies);
everything else is the body, in the shape that booth.shop.event_shapes gives its kind.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from pydantic import ValidationError

from booth.shop.care_shapes import OF_A_PERSON
from booth.shop.event_shapes import EVENTS
from booth.shop.explain import said, short
from booth.shop.model import keys_of, place_of
from booth.times import TimeError, parse_time

PRIVATE = ("by", "reason", "text")

BY_PEOPLE_ONLY = ("concession", "release", "correction")
"""Acts that need a person at the command line; over MQTT they are quarantined."""

REASON_NEEDED = ("correction", "concession", "reopen")
TEXT_NEEDED = ("note", "review")


class EventError(ValueError):
    """An event that can't be taken; the text says what was expected and what to write."""


@dataclass(frozen=True)
class Event:
    """An event that fits the contract, ready for the journal."""

    id: str
    kind: str
    time: int
    body: dict[str, Any]
    private: dict[str, str]


def read_event(raw: dict[str, Any], booth: str | None, now: int) -> Event:
    """The event of a payload. Without a time it happened now; without an id it gets one. Raises EventError."""
    rest = dict(raw)
    kind = rest.pop("event", None)
    if not isinstance(kind, str) or kind not in EVENTS:
        raise EventError(f"event {kind!r} is not known; write one of {', '.join(EVENTS)}")
    identity = _identity(kind, rest.pop("id", None))
    time = _time(kind, rest.pop("time", None), now)
    private = _private(kind, rest)
    named_booth = _booth(kind, rest.pop("booth", None), booth)
    try:
        body = EVENTS[kind].model_validate(rest).model_dump(mode="json", exclude_none=True, by_alias=True)
    except ValidationError as error:
        raise EventError(f"{kind}: {_sentences(error, kind)}") from None
    if named_booth is not None:
        body["booth"] = named_booth
    return Event(identity, kind, time, body, private)


def _identity(kind: str, value: object) -> str:
    if value is None:
        return str(uuid4())
    try:
        return str(UUID(value))
    except (ValueError, AttributeError, TypeError):
        raise EventError(f"{kind}: id {value!r} is not a UUID; write for example {uuid4()}, or leave it out") from None


def _time(kind: str, value: object, now: int) -> int:
    try:
        return now if value is None else parse_time(value)
    except TimeError as error:
        raise EventError(f"{kind}: {error}") from None


def _private(kind: str, rest: dict[str, Any]) -> dict[str, str]:
    """What is personal or free text, taken out of the rest of the payload."""
    found = {name: value for name in PRIVATE if (value := rest.pop(name, None)) is not None}
    for name, value in found.items():
        if not isinstance(value, str):
            raise EventError(f"{kind}: {name} is {value!r}; write text in quotes")
    for name, kinds in (("reason", REASON_NEEDED), ("text", TEXT_NEEDED)):
        if kind in kinds and not found.get(name, "").strip():
            raise EventError(f"{kind} needs a {name}; write {name} = what a reader in two years must know")
    if kind in OF_A_PERSON and not found.get("by", "").strip():
        raise EventError(f"{kind} needs whose it is; write by = that person's badge")
    return found


def _booth(kind: str, named: object, received: str | None) -> str | None:
    """The booth that the payload names, or the one whose topic it came on. The two can't differ."""
    if named is not None and (not isinstance(named, str) or received not in (None, named)):
        raise EventError(f"{kind}: booth {named!r} in an event of booth {received!r}; write the same booth, or leave it out")
    return named or received


def _sentences(error: ValidationError, kind: str) -> str:
    return "; ".join(_sentence(item, kind) for item in error.errors(include_url=False))


def _sentence(item: dict[str, Any], kind: str) -> str:
    key = ".".join(map(str, item["loc"]))
    if item["type"] == "missing":
        return f"{key} is missing"
    if item["type"] == "extra_forbidden":
        owner = place_of(item["loc"], EVENTS[kind]).owner
        return f"{key} is not a key of this event; write one of {', '.join(keys_of(owner))}"
    if item["type"] == "expected":
        return f"{key}: {item['ctx']['message']}; write for example {item['ctx']['write']}".removeprefix(": ")
    return f"{key}: {said(item)}, found {short(item['input'])}"
