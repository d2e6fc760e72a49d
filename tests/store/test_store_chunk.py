"""A chunk gives back what went in, can be read by its description alone, and no flipped bit goes unseen.

The description is that of booth/store/chunk.py; the reader here uses only json and zlib (RFC 1951 and RFC 8259 from the standard
library). SHA-256 is checked against FIPS 180-4 in test_store_chain.py.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import zlib
from contextlib import closing
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.store import Reading, Store, StoreError
from booth.store.chunk import ChunkError, Row, pack, unpack
from booth.store.sealed import opened
from booth.times import HOUR

H = 1_783_944_000_000_000  # 2026-07-13T12:00:00Z
INTEGERS = st.integers(-(2**63), 2**63 - 1)

rows = st.lists(
    st.builds(
        Row,
        time=st.integers(H, H + 20) | INTEGERS,
        ordinal=st.integers(0, 3),
        sent=st.sampled_from(["21.4", "21.40", "1e3", "spray", "nan", "-0", "infinity", " 7", "1_0", "٣"])
        | st.text(st.characters(codec="utf-8")),
        unit=st.sampled_from(["degC", "degF", "", "m³/s"]),
        value=st.floats(allow_nan=False, allow_infinity=False).map(lambda value: value + 0.0),  # SQLite keeps no -0.0
        mapping=INTEGERS,
        arrived=INTEGERS,
        quality=st.sampled_from(["good", "stuck"]),
    ),
    min_size=1,
    max_size=30,
)


@given(rows)
def test_every_reading_comes_back_as_it_was(found: list[Row]) -> None:
    found.sort(key=lambda row: row[:2])
    chunk = unpack(pack("north/air", H, found))
    assert (chunk.point, chunk.hour, len(chunk)) == ("north/air", H, len(found))
    back = list(zip(chunk.times.tolist(), chunk.arrived.tolist(), (chunk.kinds[n] for n in chunk.kind), strict=True))
    kinds = [(row.sent, row.unit, row.mapping, row.quality, row.ordinal, row.value) for row in found]
    assert back == [(row.time, row.arrived, kind) for row, kind in zip(found, kinds, strict=True)]
    assert list(map(repr, chunk.values.tolist())) == [repr(float(row.value)) for row in found]  # not -0.0 for 0.0


def by_the_description(data: bytes) -> list[tuple]:
    """The readings of a chunk, read as its description says."""
    inflate = lambda part: zlib.decompress(part, -15)  # noqa: E731
    place = 4 + int.from_bytes(data[:4], "big")
    head = json.loads(inflate(data[4:place]))
    columns = {}
    for name in ("time", "delay", "kind"):
        about = head["columns"][name]
        numbers = [0] * (head["count"] - about["summed"])
        for level, length in enumerate(about["planes"]):
            plane = inflate(data[place : place + length])
            numbers = [number + (byte << 8 * level) for number, byte in zip(numbers, plane, strict=True)]
            place += length
        numbers = [about["offset"] + about["scale"] * (number + about["step"] * i) for i, number in enumerate(numbers)]
        if about["summed"]:
            steps, numbers = numbers, [about["first"]]
            for step in steps:
                numbers.append(numbers[-1] + step)
        columns[name] = numbers
    found = []
    for time, delay, number in zip(*columns.values(), strict=True):
        sent, unit, mapping, quality, ordinal, value = head["kinds"][number]
        found.append(Row(time, ordinal, sent, unit, float(sent) if value is None else value, mapping, time + delay, quality))
    return found


def an_hour(seconds: int = 3600) -> list[Row]:
    """One reading a second, jittered, the air slowly warming by steps of a tenth."""
    random, value, found = Random(4), 215, []
    for second in range(0, 3600, 3600 // seconds):
        value += random.choice((-1, 0, 0, 1))
        time = H + second * 1_000_000 + random.randrange(8000)
        fahrenheit = second % 7 == 0
        sent = f"{value * 0.18 + 32:.2f}" if fahrenheit else f"{value / 10:.1f}"
        unit = "degF" if fahrenheit else "degC"
        found.append(Row(time, 0, sent, unit, value / 10, 1, time + random.randrange(1500, 30_000), "good"))
    return found


def test_read_without_this_program() -> None:
    found = an_hour()
    assert by_the_description(pack("north/air", H, found)) == found


def test_every_bit_of_a_chunk_counts() -> None:
    data = pack("north/air", H, an_hour(60))
    sha256 = hashlib.sha256(data).digest()
    assert len(opened("north/air", H, data, sha256)) == 60
    for place in range(len(data) * 8):
        flipped = bytearray(data)
        flipped[place // 8] ^= 1 << place % 8
        with pytest.raises(ChunkError, match="its bytes hash to"):
            opened("north/air", H, bytes(flipped), sha256)


def test_a_chunk_of_another_point_or_hour_is_refused() -> None:
    data = pack("north/air", H, an_hour(60))
    for point, hour in (("south/air", H), ("north/air", H + HOUR)):
        with pytest.raises(ChunkError, match="its bytes are those of north/air"):
            opened(point, hour, data, hashlib.sha256(data).digest())


@given(st.binary(max_size=80) | st.binary(max_size=40).map(lambda data: len(data).to_bytes(4, "big") + data))
def test_garbage_is_an_error_never_a_crash(data: bytes) -> None:
    with pytest.raises(ChunkError):
        unpack(data)


@pytest.mark.parametrize("head", [b"[]", b"{}", b'{"v":2}', b'{"v":1,"columns":3}', b"[" * 100_000, b"null", b"\xff"])
def test_hostile_heads_are_errors_never_crashes(head: bytes) -> None:
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    packed = packer.compress(head) + packer.flush()
    with pytest.raises(ChunkError):
        unpack(len(packed).to_bytes(4, "big") + packed)


def everything(directory: Path) -> tuple:
    with Store.open(directory) as store:
        points = sorted(store.readings.counts())
        return (points, [list(store.readings.rows(point, 0, 2**62)) for point in points])


def test_a_flipped_bit_of_the_file_is_found_or_changes_nothing(tmp_path: Path) -> None:
    with Store.open(tmp_path / "whole", writer=True) as store:
        for point in ("north/air", "south/air"):
            sent = [Reading(point, row.time, row.arrived, row.sent, row.unit, row.value, 1) for row in an_hour(1800)]
            store.readings.append([*sent, Reading(point, H + 3 * HOUR, H, "spray", "", 1.0, 1)])
        assert store.readings.seal(H + 9 * HOUR).hours == 4
    expected = everything(tmp_path / "whole")
    with closing(sqlite3.connect(tmp_path / "whole" / "booth.sqlite")) as connection:
        connection.execute("VACUUM")  # drops the pages that the rows left behind
    whole = (tmp_path / "whole" / "booth.sqlite").read_bytes()
    random, found = Random(11), 0
    pages = [page for page in range(0, len(whole), 4096) if whole[page : page + 4096].count(0) < 3000]  # tables without rows
    for _ in range(2000):
        damaged = bytearray(whole)
        place = random.choice(pages) * 8 + random.randrange(4096 * 8)
        damaged[place // 8] ^= 1 << place % 8
        shutil.rmtree(tmp_path / "damaged", ignore_errors=True)
        (tmp_path / "damaged").mkdir()
        (tmp_path / "damaged" / "booth.sqlite").write_bytes(damaged)
        try:
            with Store.open(tmp_path / "damaged") as store:
                ok = store.readings.verify().ok
        except StoreError:
            ok = False
        found += not ok
        assert not ok or everything(tmp_path / "damaged") == expected, f"bit {place}"
    assert found > 1000  # the rest lie in unused parts of pages
