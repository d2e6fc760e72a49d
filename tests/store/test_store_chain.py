"""The chain of hashes: its bytes by published vectors, and that no flipped bit goes unseen.

Sources: SHA-256 by FIPS 180-4 (NIST example vectors), canonical JSON by RFC 8785 section 3.2.2 (from memory; both in
tests/data/check_values.json), numbers by RFC 8785 appendix B (from memory). The chain itself is recomputed with hashlib and
json alone.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import struct
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from booth.store import Draft, Store, StoreError, chain

CASES = json.loads((Path(__file__).parent.parent / "data/check_values.json").read_text(encoding="utf-8"))["cases"]
BY_ID = {case["id"]: case for case in CASES}
ASCII = {"aud-sha-empty": b"", "aud-sha-abc": b"abc", "aud-sha-million-a": b"a" * 1_000_000}


def draft(number: int, **body: Any) -> Draft:
    return Draft(
        "note", {"vehicle": "TV-1", "n": number, **body}, number, number + 1, "test", f"id-{number}", {"by": f"badge-{number}"}
    )


@pytest.mark.parametrize("case", ASCII)
def test_sha256_vectors(case: str) -> None:
    assert chain.sha256(ASCII[case]) == BY_ID[case]["expected"]


def test_body_is_written_as_rfc_8785_writes_its_sample() -> None:
    sample = json.loads(BY_ID["aud-jcs"]["inputs"]["json"])
    data = chain.encode(Draft("note", sample, 0, 0, "test", "x"), 1, chain.GENESIS, {})
    assert data.startswith(b'{"body":' + BY_ID["aud-jcs"]["expected"].encode() + b',"channel":')


@pytest.mark.parametrize(
    ("bits", "text"),
    [
        (0x0000000000000000, b"0"),
        (0x8000000000000000, b"0"),
        (0x0000000000000001, b"5e-324"),
        (0x7FEFFFFFFFFFFFFF, b"1.7976931348623157e+308"),
        (0x4340000000000001, b"9007199254740994"),
        (0x444B1AE4D6E2EF50, b"1e+21"),
        (0x3EB0C6F7A0B5ED8D, b"0.000001"),
        (0x3EB0C6F7A0B5ED8C, b"9.999999999999997e-7"),
        (0x41B3DE4355555555, b"333333333.3333333"),
    ],
)
def test_numbers_are_written_as_rfc_8785_appendix_b_and_read_back(bits: int, text: bytes) -> None:
    number = struct.unpack(">d", struct.pack(">Q", bits))[0]
    data = chain.encode(Draft("note", {"n": number}, 0, 0, "test", "x"), 1, chain.GENESIS, {})
    assert data.startswith(b'{"body":{"n":' + text + b"}")
    assert chain.decode(data)["body"]["n"] == number


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(st.text(), json_values, max_size=4))
def test_any_plain_json_body_reads_back_equal(body: dict[str, Any]) -> None:
    data = chain.encode(Draft("note", body, 0, 0, "test", "x"), 1, chain.GENESIS, {})
    assert chain.entry_of(data, {}).body == body


@given(st.binary(max_size=60) | st.recursive(st.none() | st.text(), st.lists).map(lambda value: json.dumps(value).encode()))
def test_garbage_is_a_problem_never_a_crash(data: bytes) -> None:
    row = chain.Row(1, data, dict.fromkeys(("hash", *chain.INDEXED)))
    assert not chain.verify([row]).ok


@pytest.mark.parametrize("data", [b"[" * 100_000, b"9" * 10_000, b'{"v":2}', b"\xff\xfe", b"NaN"])
def test_hostile_json_is_a_problem_never_a_crash(data: bytes) -> None:
    assert "Entry 1" in " ".join(chain.verify([chain.Row(1, data, dict.fromkeys(("hash", *chain.INDEXED)))]).problems)


def test_chain_recomputed_without_this_program(store: Store, outsider: sqlite3.Connection) -> None:
    store.journal.append([draft(1), draft(2, text="dämmt"), draft(3)])
    prev = "0" * 64
    for seq, data, stored in outsider.execute("SELECT seq, bytes, hash FROM journal ORDER BY seq").fetchall():
        content = json.loads(data)
        plain = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)  # = RFC 8785 for such content
        assert (plain.encode(), content["seq"], content["prev"]) == (data, seq, prev)
        prev = hashlib.sha256(data).hexdigest()
        salt, text = outsider.execute("SELECT salt, text FROM disclosure WHERE seq = ?", (seq,)).fetchone()
        assert len(salt) == 16
        assert (stored, content["private"]["by"]) == (prev, hashlib.sha256(salt + text.encode()).hexdigest())
    assert store.journal.head().hash == prev


@pytest.mark.parametrize(
    ("table", "column", "kind"),
    [("journal", name, "BLOB" if name == "bytes" else "TEXT") for name in ("bytes", "hash", *chain.INDEXED)]
    + [("disclosure", "name", "TEXT"), ("disclosure", "salt", "BLOB"), ("disclosure", "text", "TEXT")],
)
def test_every_flipped_byte_is_found(store: Store, forger: Callable[..., Any], table: str, column: str, kind: str) -> None:
    store.journal.append([draft(1), draft(2)])
    assert store.journal.verify().ok
    random = Random(20260713)
    for seq in (1, 2):
        (before,) = forger(f"SELECT CAST({column} AS BLOB) FROM {table} WHERE seq = ?", seq).fetchone()
        assert before
        for place in range(len(before)):
            after = bytearray(before)
            after[place] ^= 1 << random.randrange(8)
            forger(f"UPDATE {table} SET {column} = CAST(? AS {kind}) WHERE seq = ?", bytes(after), seq)
            found = store.journal.verify()
            assert not found.ok and f"Entry {seq}" in " ".join(found.problems), (seq, place, bytes(after))
            forger(f"UPDATE {table} SET {column} = CAST(? AS {kind}) WHERE seq = ?", before, seq)
    assert store.journal.verify().ok  # the flips were taken back: nothing else was wrong


def test_every_bit_of_an_entry_counts() -> None:
    data = chain.encode(draft(1), 1, chain.GENESIS, {"by": b"0" * 16})
    columns = {
        name: None if value is None else str(value).encode() for name, value in chain.index_columns(chain.decode(data)).items()
    }
    whole = chain.Row(1, data, {"hash": chain.sha256(data).encode(), **columns})
    assert chain.verify([whole]).ok
    for place in range(len(data) * 8):
        flipped = bytearray(data)
        flipped[place // 8] ^= 1 << place % 8
        assert not chain.verify([chain.Row(1, bytes(flipped), whole.columns)]).ok


def test_damage_to_the_file_itself_is_found_or_harmless(tmp_path: Path) -> None:
    with Store.open(tmp_path / "whole", writer=True) as store:
        store.journal.append([draft(number) for number in range(1, 40)])
        expected = list(store.journal.entries())
    whole = (tmp_path / "whole" / "booth.sqlite").read_bytes()
    random, reported = Random(7), 0
    for _ in range(300):
        damaged = bytearray(whole)
        place = random.randrange(len(whole) - 40)
        damaged[place : place + 40] = random.randbytes(40)
        shutil.rmtree(tmp_path / "damaged", ignore_errors=True)
        (tmp_path / "damaged").mkdir()
        (tmp_path / "damaged" / "booth.sqlite").write_bytes(damaged)
        try:
            with Store.open(tmp_path / "damaged") as store:
                found = store.journal.verify()
                reported += not found.ok
                assert not found.ok or list(store.journal.entries()) == expected
        except StoreError:
            reported += 1
    assert reported > 50
