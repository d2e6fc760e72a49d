"""Numbers as they were sent, and JSON pointers: the examples of RFC 6901 section 5."""

from __future__ import annotations

import json

import pytest

from booth.readers.json_text import NothingThere, Number, follow, parse_json
from booth.readers.refused import Refused

RFC_6901_DOCUMENT = json.loads(
    r"""{"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8}"""
)


@pytest.mark.parametrize(
    ("pointer", "value"),
    [
        ("", RFC_6901_DOCUMENT),
        ("/foo", ["bar", "baz"]),
        ("/foo/0", "bar"),
        ("/", 0),
        ("/a~1b", 1),
        ("/c%d", 2),
        ("/e^f", 3),
        ("/g|h", 4),
        ("/i\\j", 5),
        ('/k"l', 6),
        ("/ ", 7),
        ("/m~0n", 8),
    ],
)
def test_examples_of_rfc_6901_section_5(pointer: str, value: object) -> None:
    assert follow(RFC_6901_DOCUMENT, pointer) == value


def test_tilde_one_is_unescaped_before_tilde_zero() -> None:
    """RFC 6901 section 4: "~01" becomes "~1", never "/"."""
    assert follow({"~1": "right", "/": "wrong"}, "/~01") == "right"


@pytest.mark.parametrize(
    "pointer", ["/foo/2", "/foo/-", "/foo/01", "/foo/+1", "/foo/1e0", "/foo/ 1", "/none", "/foo/0/0", "foo", "/foo/²"]
)
def test_leads_nowhere(pointer: str) -> None:
    with pytest.raises(NothingThere):
        follow(RFC_6901_DOCUMENT, pointer)


@pytest.mark.parametrize("text", ["21.40", "21", "-0.0", "2.140e1", "0.1000000000000000055511151231257827"])
def test_a_number_stays_as_it_was_sent(text: str) -> None:
    number = parse_json(f'{{"value": {text}}}'.encode())["value"]
    assert isinstance(number, Number)
    assert number == text


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"\xff", "not_utf8"),
        (b"{", "not_json"),
        (b"21,4", "not_json"),
        (b'{"value": 1, "value": 2}', "not_json"),
        (b"[" * 50_000, "not_json"),
        (b"\xef\xbb\xbf1", "not_json"),
    ],
)
def test_refused(payload: bytes, reason: str) -> None:
    with pytest.raises(Refused) as caught:
        parse_json(payload)
    assert caught.value.reason == reason
