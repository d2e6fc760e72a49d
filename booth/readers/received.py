"""What comes in, and what it turns out to be.

A `Received` is a message as the broker delivered it. Decoding makes one or more outcomes of it; reading a file makes the same
outcomes without a broker. All times are microseconds since 1970 UTC.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Received:
    """One message. Call `acknowledge` once everything in it is committed, in the order in which messages came.

    `acknowledge` is None where nobody waits for it (QoS 0). `generation` counts connections: the broker delivers again
    what an older connection left open, so acknowledgements of an older generation do nothing.
    """

    topic: str
    payload: bytes
    arrived: int
    generation: int
    acknowledge: Callable[[], None] | None
    retained: bool


@dataclass(frozen=True)
class SessionLost:
    """A broker forgot us: what it was sent between `since` (last message received) and `arrived` may be missing.

    `broker`: its name in the configuration, "" for the first one.
    """

    since: int
    arrived: int
    broker: str = ""


@dataclass(frozen=True)
class ReadingIn:
    """One usable reading. `sent` and `unit` are exactly as sent, `value` is in the unit used inside.

    For a point that reports words (a booth's mode) `sent` is the word and `value` its place in the point's list of words.
    """

    point: str
    time: int
    arrived: int
    sent: str
    unit: str
    value: float
    mapping: int
    quality: str = "good"


@dataclass(frozen=True)
class EventIn:
    """One event with a sound envelope (id, event, time, by). What its kind needs besides is checked by `check_event`."""

    booth: str
    event: dict
    time: int
    arrived: int
    origin: str


@dataclass(frozen=True)
class TickIn:
    """A simulated plant says that all readings and events up to `time` are out (accelerated runs)."""

    time: int


@dataclass(frozen=True)
class QuarantinedIn:
    """Something that can't be used, kept with the reason. `origin` is the topic, or file:line."""

    arrived: int
    reader: str
    origin: str
    reason: str
    sentence: str
    payload: bytes


Outcome = ReadingIn | EventIn | TickIn | QuarantinedIn
