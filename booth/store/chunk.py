"""The bytes of a sealed chunk, pure: all readings of one point in one hour, and nothing lost of them.

A chunk is a head and three columns of whole numbers. The first four bytes are the length of the head, big-endian; the head is
UTF-8 JSON, deflated (RFC 1951): `v` (1), `point`, `hour` (its beginning), `count`, `kinds`, `columns`. A kind is
`[sent, unit, mapping, quality, ordinal, value]`, where value null stands for the number that `sent` spells; readings of the
same kind differ in nothing but their times. Then come the columns `time`, `delay` (arrived - time) and `kind` (the number of the
kind, from 0), each in `planes`: the lowest bytes of all its numbers, deflated, then the next higher ones, and so on; the head has
the length of each. The i-th number, from 0, is offset + scale * (stored + step * i), modulo 2^64; where `summed` is true, these
are the differences of each number to the next, and the head has the `first`. Readings are in the order of (time, ordinal). Times
are microseconds UTC. Why so: docs/decisions/0009-sealed-days.md.
"""

from __future__ import annotations

import json
import math
import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from booth.times import HOUR

FORMAT = 1
GOOD = "good"
_COLUMNS = ("time", "delay", "kind")
_RAW = -15  # deflate without the wrapper of zlib: the chunk has a better checksum


class ChunkError(ValueError):
    """Bytes that are no chunk."""


class Row(NamedTuple):
    """One reading as stored, its unit as text; `ordinal` counts contradicting values of the same time."""

    time: int
    ordinal: int
    sent: str
    unit: str
    value: float
    mapping: int
    arrived: int
    quality: str


class Kind(NamedTuple):
    """Everything of a reading but its times."""

    sent: str
    unit: str
    mapping: int
    quality: str
    ordinal: int
    value: float


@dataclass(frozen=True)
class Chunk:
    """A chunk unpacked: `times` and `arrived` int64 microseconds, `kind` the place of each reading's kind in `kinds`."""

    point: str
    hour: int
    times: np.ndarray
    arrived: np.ndarray
    kind: np.ndarray
    kinds: tuple[Kind, ...]

    def __len__(self) -> int:
        return len(self.times)

    @property
    def values(self) -> np.ndarray:
        """float64, in the unit used inside."""
        return np.array([kind.value for kind in self.kinds], np.float64)[self.kind]

    def having(self, quality: str) -> np.ndarray:
        """Which readings have this quality."""
        return np.array([kind.quality == quality for kind in self.kinds], np.bool_)[self.kind]

    def columns(self, start: int, end: int, known_by: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Times, values, and which are good, of the readings with start <= time < end that had arrived by then."""
        first, past = np.searchsorted(self.times, (start, end))
        taken = np.flatnonzero(self.arrived[first:past] <= known_by) + first
        return self.times[taken], self.values[taken], self.having(GOOD)[taken]

    def rows(self, start: int, end: int) -> Iterator[Row]:
        """Readings with start <= time < end."""
        first, past = np.searchsorted(self.times, (start, end))
        columns = (column[first:past].tolist() for column in (self.times, self.arrived, self.kind))
        for time, arrived, number in zip(*columns, strict=True):
            sent, unit, mapping, quality, ordinal, value = self.kinds[number]
            yield Row(time, ordinal, sent, unit, value, mapping, arrived, quality)


def hour_of(time: int) -> int:
    """The beginning of the hour (UTC) that a moment lies in."""
    return time // HOUR * HOUR


def pack(point: str, hour: int, rows: Sequence[Row]) -> bytes:
    """The bytes of a chunk. `rows` are in the order of (time, ordinal), at least one."""
    times = np.array([row.time for row in rows], np.int64)
    arrived = np.array([row.arrived for row in rows], np.int64)
    kinds, numbers = _kinds(rows)
    packed = [_pack_column(column) for column in (times, arrived - times, numbers)]  # int64 wraps round: still lossless
    head = {
        "v": FORMAT,
        "point": point,
        "hour": hour,
        "count": len(rows),
        "kinds": [(*kind[:-1], None if repr(_spelt(kind.sent)) == repr(kind.value) else kind.value) for kind in kinds],  # -0.0
        "columns": {name: described for name, (described, _) in zip(_COLUMNS, packed, strict=True)},
    }
    deflated = _deflate(json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode())
    return b"".join((len(deflated).to_bytes(4, "big"), deflated, *(data for _, data in packed)))


def unpack(data: bytes) -> Chunk:
    """The readings of a chunk. Raises ChunkError when the bytes aren't one, whatever they are."""
    try:
        length = 4 + int.from_bytes(data[:4], "big")
        head = json.loads(zlib.decompress(data[4:length], _RAW))
        if head["v"] != FORMAT:
            raise ChunkError(f"its format is {head['v']!r}, this program reads {FORMAT}")
        columns, place = [], length
        for name in _COLUMNS:
            column, place = _unpack_column(data, place, head["columns"][name], head["count"])
            columns.append(column)
        times, delays, numbers = columns
        kinds = tuple(Kind(*kind[:-1], _spelt(kind[0]) if kind[-1] is None else kind[-1]) for kind in head["kinds"])
        return Chunk(head["point"], head["hour"], times, times + delays, numbers, kinds)
    except ChunkError:
        raise
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, OverflowError, RecursionError, zlib.error) as problem:
        raise ChunkError(f"its bytes can't be read as a chunk: {problem}") from None


def _kinds(rows: Sequence[Row]) -> tuple[list[Kind], np.ndarray]:
    """The kinds there are, by value, so that a slowly changing value is a slowly changing number; and the kind of each row."""
    kind_of = [Kind(row.sent, row.unit, row.mapping, row.quality, row.ordinal, row.value) for row in rows]
    kinds = sorted(set(kind_of), key=lambda kind: (kind.value, kind))
    number = {kind: place for place, kind in enumerate(kinds)}
    return kinds, np.array([number[kind] for kind in kind_of], np.int64)


def _spelt(sent: str) -> float | None:
    """The number that a text spells, or None: then the value has to be written down."""
    try:
        number = float(sent)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _pack_column(numbers: np.ndarray) -> tuple[dict[str, Any], bytes]:
    """A column as its description and bytes: what is left above a line, or the differences, whichever is shorter."""
    line, data = _pack_numbers(numbers, _slope)
    differences, other = _pack_numbers(np.diff(numbers), lambda units: 0)
    if len(data) <= len(other):
        return {"summed": False, **line}, data
    return {"summed": True, "first": int(numbers[0]), **differences}, other


def _pack_numbers(numbers: np.ndarray, slope: Callable[[np.ndarray], int]) -> tuple[dict[str, Any], bytes]:
    """Everything modulo 2^64: whatever the numbers are, they come back."""
    lowest = int(numbers.min()) if len(numbers) else 0
    above = numbers.view(np.uint64) - np.uint64(lowest % 2**64)
    scale = int(np.gcd.reduce(above)) or 1 if len(above) else 1
    units = above // np.uint64(scale)
    step = slope(units)
    left = (units - _line(step, len(units))).view(np.int64)
    least = int(left.min()) if len(left) else 0
    octets = (left - np.int64(least)).astype("<i8").view(np.uint8).reshape(-1, 8)
    planes = [_deflate(octets[:, place].tobytes()) for place in range(8) if octets[:, place:].any()]
    described = {"offset": lowest + scale * least, "scale": scale, "step": step, "planes": [len(plane) for plane in planes]}
    return described, b"".join(planes)


def _unpack_column(data: bytes, place: int, described: dict[str, Any], count: int) -> tuple[np.ndarray, int]:
    """A column that begins at `place`, and where the next one does."""
    stored = count - 1 if described["summed"] else count
    octets = np.zeros((stored, 8), np.uint8)
    for number, length in enumerate(described["planes"]):
        octets[:, number] = np.frombuffer(zlib.decompress(data[place : place + length], _RAW), np.uint8)
        place += length
    units = octets.reshape(-1).view("<u8").astype(np.uint64) + _line(described["step"], stored)
    numbers = (units * np.uint64(described["scale"]) + np.uint64(described["offset"] % 2**64)).view(np.int64)
    if described["summed"]:
        numbers = np.concatenate((np.array([described["first"]], np.int64), numbers)).cumsum()
    return numbers, place


def _slope(units: np.ndarray) -> int:
    """The whole step of the straight line that fits best: what an instrument's own clock counts from reading to reading."""
    if len(units) < 3:
        return 0
    places = np.arange(len(units)) - (len(units) - 1) / 2
    fitted = float(places @ units.astype(np.float64)) / float(places @ places)
    return round(fitted) if abs(fitted) < 2**62 else 0


def _line(step: int, count: int) -> np.ndarray:
    return np.arange(count, dtype=np.uint64) * np.uint64(step % 2**64)


def _deflate(data: bytes) -> bytes:
    """Z_FILTERED: for such planes shorter than the default, since little in them comes again."""
    packer = zlib.compressobj(9, zlib.DEFLATED, _RAW, 9, zlib.Z_FILTERED)
    return packer.compress(data) + packer.flush()
