"""What goes into the journal and what comes out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid4


@dataclass(frozen=True)
class Draft:
    """An entry before it has a place in the chain.

    `body` is plain JSON. `private` holds personal and free text by name: the chain carries only salted commitments to it, so that
    it can be redacted later. `effective` is when it was so, `recorded` when it was written down (microseconds UTC).
    """

    kind: str
    body: dict[str, Any]
    effective: int
    recorded: int
    channel: str
    id: str = field(default_factory=lambda: str(uuid4()))
    private: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Entry:
    """One link of the chain, read from its bytes. A private text is None once redacted."""

    seq: int
    hash: str
    prev: str
    id: str
    kind: str
    effective: int
    recorded: int
    channel: str
    body: dict[str, Any]
    private: dict[str, str | None]


@dataclass(frozen=True)
class Appended:
    """The entry now in the journal; `new` is false if one with this id was there already."""

    entry: Entry
    new: bool


@dataclass(frozen=True)
class Head:
    """The chain's end: number of entries and hash of the last one (64 zeros if there is none)."""

    entries: int
    hash: str


@dataclass(frozen=True)
class Verification:
    """What checking the whole chain found; `ok` means no problems. `head` is that of the bytes as they are now."""

    ok: bool
    entries: int
    head: str
    problems: tuple[str, ...]
