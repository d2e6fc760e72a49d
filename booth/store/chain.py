"""The chain of hashes, pure: the bytes of an entry, its hash, commitments, and checking it all.

An entry's bytes are RFC 8785 canonical JSON of `v` (1), `seq`, `prev`, `id`, `kind`, `recorded`, `effective`, `channel`,
`body` and `private` (name -> commitment). Its hash is their SHA-256 (FIPS 180-4) in lower-case hex, and the `prev` of the
next; the first `prev` is 64 zeros. A commitment is the SHA-256 of 16 random bytes followed by the text in UTF-8: without the
salt a short text could be guessed from it. Anybody can check a journal with these sentences and without this program.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import rfc8785

from booth.store.entry import Draft, Entry, Verification

FORMAT = 1
GENESIS = "0" * 64
SALT_BYTES = 16
_EXACT_INTEGERS = 2**53 - 1
_FIELDS: dict[str, type] = {
    "v": int,
    "seq": int,
    "prev": str,
    "id": str,
    "kind": str,
    "recorded": int,
    "effective": int,
    "channel": str,
    "body": dict,
    "private": dict,
}
INDEXED = ("id", "kind", "recorded", "effective", "channel", "vehicle")


class ChainError(ValueError):
    """Bytes that are no entry, or a draft that can't become one."""


@dataclass(frozen=True)
class Disclosure:
    """What a commitment stands for; bytes as stored, since nothing is believed before it is checked."""

    name: bytes
    salt: bytes
    text: bytes


@dataclass(frozen=True)
class Row:
    """One row of the journal as it lies in the file; `columns` (hash and INDEXED) as text bytes, None where empty."""

    seq: int
    bytes: bytes
    columns: Mapping[str, bytes | None]
    disclosures: tuple[Disclosure, ...] = ()


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def commitment(salt: bytes, text: bytes) -> str:
    return sha256(salt + text)


def encode(draft: Draft, seq: int, prev: str, salts: Mapping[str, bytes]) -> bytes:
    """The exact bytes of an entry; every private text has a salt.

    Raises ChainError when the draft isn't plain JSON (NaN, integers beyond 2^53, half a surrogate pair, a set, …).
    """
    content = {
        "v": FORMAT,
        "seq": seq,
        "prev": prev,
        "id": draft.id,
        "kind": draft.kind,
        "recorded": draft.recorded,
        "effective": draft.effective,
        "channel": draft.channel,
        "body": draft.body,
    }
    try:
        content["private"] = {name: commitment(salts[name], _text_bytes(text)) for name, text in draft.private.items()}
        _check_fields(content)
        return rfc8785.dumps(content)
    except (ValueError, TypeError, RecursionError) as problem:
        raise ChainError(str(problem)) from None


def decode(data: bytes) -> dict[str, Any]:
    """The content of an entry's bytes. Raises ChainError when they aren't one, whatever they are."""
    try:
        content = json.loads(data.decode("utf-8"), parse_int=_number)
        _check_fields(content)
        canonical = rfc8785.dumps(content)
    except (ValueError, TypeError, RecursionError) as problem:
        raise ChainError(f"its bytes can't be read as an entry: {problem}") from None
    if canonical != data:
        raise ChainError("its bytes are not RFC 8785 canonical JSON")
    return content


def entry_of(data: bytes, disclosures: Mapping[str, str]) -> Entry:
    """The entry that the bytes hold; private texts that aren't disclosed are None. Raises ChainError."""
    content = decode(data)
    private = {name: disclosures.get(name) for name in content["private"]}
    fields = {key: value for key, value in content.items() if key not in ("v", "private")}
    return Entry(hash=sha256(data), private=private, **fields)


def verify(rows: Iterable[Row], head: str | None = None) -> Verification:
    """Check a journal from its first row to its last; with `head`, also that this hash is (still) in it.

    Without a head from outside, a journal whose tail was cut off, or that was rewritten as a whole, looks whole.
    """
    problems: list[str] = []
    seq, prev, count, found = 0, GENESIS, 0, head in (None, GENESIS)
    for row in rows:
        problems += _row_problems(row, seq, prev)
        seq, prev, count = row.seq, sha256(row.bytes), count + 1
        found = found or prev == head
    if not found:
        problems.append(_head_problem(head or "", count))
    return Verification(not problems, count, prev, tuple(problems))


def index_columns(content: Mapping[str, Any]) -> dict[str, Any]:
    """The columns kept beside the bytes so that entries can be looked up."""
    vehicle = content["body"].get("vehicle")
    return {**{name: content.get(name) for name in INDEXED}, "vehicle": vehicle if isinstance(vehicle, str) else None}


def _text_bytes(text: str) -> bytes:
    if not isinstance(text, str):
        raise ChainError(f"a private value is {text!r}, expected a text")
    return text.encode()


def _number(text: str) -> int | float:
    """RFC 8785 writes every number as ECMAScript does: 1e16 looks like an integer, but is a double."""
    number = int(text)
    return number if abs(number) <= _EXACT_INTEGERS else float(text)


def _check_fields(content: Any) -> None:
    if isinstance(content, dict) and content.get("v") != FORMAT:
        raise ChainError(f"its format is {content.get('v')!r}, this program reads {FORMAT}")
    if not isinstance(content, dict) or set(content) != set(_FIELDS):
        raise ChainError(f"expected an object with exactly the keys {', '.join(_FIELDS)}")
    for name, kind in _FIELDS.items():
        if not isinstance(content[name], kind) or isinstance(content[name], bool):
            raise ChainError(f"{name!r} is {content[name]!r}, expected {kind.__name__}")


def _row_problems(row: Row, before: int, prev: str) -> Iterator[str]:
    """Sentences about one row, given the number of the row before it and the hash of that row's bytes."""
    name = f"Entry {row.seq}"
    if row.seq != before + 1:
        yield f"{name}: expected number {before + 1} here; entries were removed, added or renumbered."
    digest = sha256(row.bytes)
    if row.columns["hash"] != digest.encode():
        yield f"{name}: its bytes hash to {digest}, but {_shown(row.columns['hash'])} was recorded with it."
    try:
        content = decode(row.bytes)
    except ChainError as problem:
        yield f"{name}: {problem}."
        return
    if content["seq"] != row.seq:
        yield f"{name}: its bytes say that it is entry {content['seq']}."
    if content["prev"] != prev:
        yield f"{name}: it follows an entry with hash {content['prev']}, but the one before it has {prev}."
    for column, value in index_columns(content).items():
        if row.columns[column] != (None if value is None else str(value).encode()):
            yield f"{name}: column {column} is {_shown(row.columns[column])}, its bytes say {value!r}."
    yield from _disclosure_problems(name, row.disclosures, content["private"])


def _disclosure_problems(name: str, disclosures: Iterable[Disclosure], committed: Mapping[str, Any]) -> Iterator[str]:
    by_bytes = {key.encode(): value for key, value in committed.items()}
    for disclosure in disclosures:
        if disclosure.name not in by_bytes:
            yield f"{name}: the disclosed {_shown(disclosure.name)} belongs to no commitment of it."
        elif commitment(disclosure.salt, disclosure.text) != by_bytes[disclosure.name]:
            yield f"{name}: the disclosed {_shown(disclosure.name)} is not the text that was committed to."


def _head_problem(head: str, count: int) -> str:
    if not re.fullmatch(r"[0-9a-f]{64}", head):
        return f"The given head {head!r} is not a SHA-256; write its 64 hexadecimal digits (0-9, a-f)."
    return f"None of the {count} entries has the given head {head}: the tail was cut off, or the chain was rewritten."


def _shown(data: bytes | None) -> str:
    return "nothing" if data is None else repr(data[:80].decode("utf-8", "backslashreplace"))
