"""What a made-up trace looks like in a file: `23 degC for 40 min, to 60 degC over 12 min, silent for 2 min, 60 degC`.

Parts are separated by commas and follow each other in time:

    23 degC for 40 min       held; reached in one step
    to 60 degC over 12 min   in a straight line from the value before
    silent for 2 min         nothing is sent
    spray for 20 min         a word, for a point that sends words
    every 5 s                how often it is sent (5 s where nothing is said); stands anywhere, for the whole trace
    noise 0.2 K              random, normal, with this standard deviation; stands anywhere, for the whole trace

Only the last part may leave its length out; then it goes on for as long as the rehearsal does.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from booth.times import SECOND
from booth.units import UnitError, parse

EVERY_US = 5 * SECOND


class NotationError(ValueError):
    """A trace that can't be read: what was found, and what to write."""

    def __init__(self, message: str, write: str = "23 degC for 40 min, to 60 degC over 12 min, 60 degC") -> None:
        self.message, self.write = message, write
        super().__init__(f"{message}; write for example {write!r}")


@dataclass(frozen=True)
class Part:
    """A stretch of a trace. From `first` to `last` in a straight line, or a `word`, or silence when it has neither.

    `length_us` is None where it goes on for as long as the rehearsal does.
    """

    length_us: int | None
    first: float | None = None
    last: float | None = None
    word: str | None = None

    def at(self, elapsed_us: int) -> float | str | None:
        """What is sent so long after its beginning."""
        if self.word is not None or self.first is None or self.first == self.last or not self.length_us:
            return self.word if self.word is not None else self.first
        return self.first + (self.last - self.first) * elapsed_us / self.length_us


@dataclass(frozen=True)
class Trace:
    """What one point sends, from the beginning of the rehearsal on."""

    parts: tuple[Part, ...]
    every_us: int = EVERY_US
    noise: float = 0.0

    @property
    def length_us(self) -> int | None:
        """How far it reaches; None where it goes on."""
        lengths = [part.length_us for part in self.parts]
        return None if None in lengths else sum(lengths)

    def samples(self, until_us: int, seed: str = "") -> Iterator[tuple[int, float | str]]:
        """(time since the beginning, value or word), up to a time. The same seed makes the same noise."""
        dice, begins = random.Random(seed), 0
        for part in self.parts:
            ends = until_us + 1 if part.length_us is None else begins + part.length_us
            first = -(-begins // self.every_us) * self.every_us
            for us in range(first, min(ends, until_us + 1), self.every_us):
                value = part.at(us - begins)
                if value is not None:
                    yield us, value if isinstance(value, str) or not self.noise else value + dice.gauss(0, self.noise)
            begins = ends


def read_trace(text: str, kind: str, words: Sequence[str] | None = None) -> Trace:
    """The trace of a text. `kind` is the point's (booth.units.KINDS); `words` are those that it sends instead of values.

    Values are in the unit used inside. Raises NotationError.
    """
    every, noise, parts = EVERY_US, 0.0, []
    for piece in filter(None, (one.strip() for one in text.split(","))):
        if match := re.fullmatch(r"every (.+)", piece):
            every = _length(match[1], piece)
        elif match := re.fullmatch(r"noise (.+)", piece):
            noise = _value(match[1], "temperature_difference" if kind == "temperature" else kind, piece)
        else:
            if parts and parts[-1].length_us is None:
                raise NotationError(
                    f"{piece!r} comes after a part without a length, which never ends", "23 degC for 40 min, 25 degC"
                )
            parts.append(_part(piece, kind, words, parts[-1] if parts else None))
    if not parts:
        raise NotationError(f"{text!r} sends nothing; a point that says nothing is silent", "silent")
    return Trace(tuple(parts), every, noise)


def _part(piece: str, kind: str, words: Sequence[str] | None, before: Part | None) -> Part:
    if match := re.fullmatch(r"to (.+?) over (.+)", piece):
        if before is None or before.last is None:
            raise NotationError(f"{piece!r} has no value before it to begin at", "23 degC for 1 min, to 60 degC over 12 min")
        return Part(_length(match[2], piece), before.last, _value(match[1], kind, piece))
    what, _, length = piece.partition(" for ")
    length_us = _length(length, piece) if length else None
    if what == "silent":
        return Part(length_us)
    if words is not None:
        if what not in words:
            raise NotationError(f"{what!r} is not a word that this point sends", f"{words[0]} for 20 min")
        return Part(length_us, word=what)
    value = _value(what, kind, piece)
    return Part(length_us, value, value)


def _value(text: str, kind: str, piece: str) -> float:
    try:
        return parse(text, kind)
    except UnitError as error:
        raise NotationError(f"{piece!r}: {error.expected}", error.example) from None


def _length(text: str, piece: str) -> int:
    try:
        seconds = parse(text, "duration")
    except UnitError as error:
        raise NotationError(f"{piece!r}: {error.expected}", error.example) from None
    if seconds <= 0:
        raise NotationError(f"{piece!r} takes no time", "23 degC for 40 min")
    return round(seconds * SECOND)
