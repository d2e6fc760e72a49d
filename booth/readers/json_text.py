"""JSON in which numbers stay as they were sent, and one place in it (RFC 6901)."""

from __future__ import annotations

import json
import re
from functools import lru_cache

from booth.readers.refused import Refused, quoted

_INDEX = re.compile(r"0|[1-9][0-9]*", re.ASCII)


class Number(str):
    """A JSON number as sent: 21.40 stays `21.40`. NaN and Infinity, which some programs send as numbers, too."""


def parse_json(payload: bytes, keep_numbers: bool = True) -> object:
    """The document; numbers as `Number`, or as int and float. Raises Refused: not_utf8, not_json."""
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError as problem:
        raise Refused(
            "not_utf8", f"byte {problem.start} of {quoted(payload)} is not UTF-8; expected JSON text, send it as UTF-8"
        ) from None
    decoder = _WITH_TEXT if keep_numbers else _WITH_NUMBERS
    try:
        if text[:1] == "{":  # the usual case, without looking for white space around it
            document, end = decoder.raw_decode(text)
            if end == len(text):
                return document
        return decoder.decode(text)
    except (ValueError, RecursionError) as problem:
        raise Refused(
            "not_json",
            f"{quoted(text)} is not JSON ({_short(problem)}); "
            'expected for example {"time": "2026-03-02T08:14:05.250Z", "value": 21.4, "unit": "degC"}',
        ) from None


def _unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """Two values under one key leave open which is meant (I-JSON, RFC 7493 section 2.3, forbids it)."""
    document = dict(pairs)
    if len(document) != len(pairs):
        raise ValueError("an object names a key twice")
    return document


def _no_constant(word: str) -> object:
    raise ValueError(f"{word} is not a JSON number")


_WITH_TEXT = json.JSONDecoder(object_pairs_hook=_unique, parse_float=Number, parse_int=Number, parse_constant=Number)
_WITH_NUMBERS = json.JSONDecoder(object_pairs_hook=_unique, parse_constant=_no_constant)


def _short(problem: Exception) -> str:
    return "nested too deeply" if isinstance(problem, RecursionError) else str(problem).split(";")[0]


class NothingThere(LookupError):
    """The pointer leads nowhere in this document."""


def follow(document: object, pointer: str) -> object:
    """The value that a JSON pointer (RFC 6901) leads to; `""` is the whole document. Raises NothingThere."""
    for key in _steps(pointer):
        if isinstance(document, dict) and key in document:
            document = document[key]
        elif isinstance(document, list) and _INDEX.fullmatch(key) and len(key) < 7 and int(key) < len(document):
            document = document[int(key)]
        else:
            raise NothingThere(f"nothing at {pointer!r}")
    return document


@lru_cache(maxsize=256)  # they come from the configuration
def _steps(pointer: str) -> tuple[str, ...]:
    """The keys that a pointer goes through. Raises NothingThere."""
    if pointer == "":
        return ()
    if not pointer.startswith("/"):
        raise NothingThere(f"{pointer!r} is no JSON pointer: write a slash before each step, for example '/data/value'")
    return tuple(step.replace("~1", "/").replace("~0", "~") for step in pointer[1:].split("/"))  # so ~01 is ~1 (section 4)
