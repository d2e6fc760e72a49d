"""The journal: what it takes once, what it refuses, what it forgets on request, and how it finds a forger.

No source outside the project defines this behaviour (it is design section 7); SQLite itself is the referee of the triggers.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from booth.store import Draft, Head, Store, StoreError


def note(id: str, text: str = "", kind: str = "note", vehicle: str | None = "TV-1", **private: str) -> Draft:
    body = {"text": text} if vehicle is None else {"text": text, "vehicle": vehicle}
    return Draft(kind, body, 100, 200, "test", id, private)


def test_entries_come_back_as_they_went_in(store: Store) -> None:
    (appended,) = store.journal.append([note("a", "dämmt", by="badge-17", reason="leak")])
    assert appended.new
    assert list(store.journal.entries()) == [appended.entry] == [store.journal.find("a")]
    entry = appended.entry
    assert (entry.seq, entry.prev, entry.id, entry.kind, entry.effective, entry.recorded) == (1, "0" * 64, "a", "note", 100, 200)
    assert (entry.body, entry.private) == ({"text": "dämmt", "vehicle": "TV-1"}, {"by": "badge-17", "reason": "leak"})
    assert store.journal.head() == Head(1, entry.hash)
    assert store.journal.find("b") is None


def test_empty_journal(store: Store) -> None:
    assert store.journal.append([]) == []
    assert store.journal.head() == Head(0, "0" * 64)
    assert store.journal.verify(head="0" * 64).ok


def test_each_draft_has_an_id_of_its_own() -> None:
    assert Draft("note", {}, 0, 0, "test").id != Draft("note", {}, 0, 0, "test").id


def test_same_id_is_the_same_event_in_a_batch_and_later(store: Store) -> None:
    first, twin = store.journal.append([note("a", "first"), note("a", "second")])
    (later,) = store.journal.append([note("a", "third", by="badge-1")])
    assert [first.new, twin.new, later.new] == [True, False, False]
    assert first.entry == twin.entry == later.entry
    assert store.journal.head().entries == 1


def test_selection(store: Store) -> None:
    store.journal.append(
        [note("1"), note("2", vehicle="TV-2"), note("3", kind="check"), note("4", vehicle=None), note("5", kind="load")]
    )
    ids = lambda **asked: "".join(entry.id for entry in store.journal.entries(**asked))  # noqa: E731
    assert ids() == "12345"
    assert ids(after=3) == "45"
    assert ids(vehicle="TV-1") == "135"
    assert ids(kinds=["check", "load"]) == "35"
    assert ids(vehicle="TV-2", kinds=["check"]) == ids(kinds=[]) == ids(vehicle="TV-9") == ""


def test_more_entries_than_one_page(store: Store) -> None:
    store.journal.append([note(str(n), by=f"badge-{n}") for n in range(1201)])
    assert [entry.private["by"] for entry in store.journal.entries()] == [f"badge-{n}" for n in range(1201)]
    assert store.journal.verify().entries == 1201


@pytest.mark.parametrize(
    "bad",
    [
        Draft("note", {"n": float("nan")}, 0, 0, "test"),
        Draft("note", {"n": 2**53}, 0, 0, "test"),
        Draft("note", {"n": {1, 2}}, 0, 0, "test"),
        Draft("note", {"half": "\ud800"}, 0, 0, "test"),
        Draft("note", {}, 0.5, 0, "test"),  # type: ignore[arg-type]
        Draft("note", {}, 0, 0, "test", private={"by": None}),  # type: ignore[dict-item]
        Draft("note", {}, 0, 0, "test", id="\ud800"),
    ],
)
def test_a_draft_that_is_not_plain_json_keeps_the_whole_batch_out(store: Store, bad: Draft) -> None:
    with pytest.raises(StoreError, match=r"booth\.sqlite: "):
        store.journal.append([note("good"), bad])
    assert store.journal.head().entries == 0


@pytest.mark.parametrize(
    ("statement", "sentence"),
    [
        ("UPDATE journal SET kind = 'x' WHERE seq = 1", "never changed"),
        ("UPDATE journal SET seq = 7 WHERE seq = 1", "never changed"),
        ("DELETE FROM journal WHERE seq = 2", "never deleted"),
        ("DELETE FROM journal", "never deleted"),
        ("INSERT OR REPLACE INTO journal VALUES (1, x'00', 'h', 'new', 'k', 0, 0, 'c', NULL)", "next number"),
        ("INSERT OR REPLACE INTO journal VALUES (3, x'00', 'h', 'a', 'k', 0, 0, 'c', NULL)", "next number"),
        ("INSERT OR REPLACE INTO journal SELECT 3, bytes, hash, 'new', kind, 0, 0, channel, NULL FROM journal", "next number"),
        ("INSERT INTO journal VALUES (4, x'00', 'h', 'new', 'k', 0, 0, 'c', NULL)", "next number"),
        ("INSERT INTO journal VALUES (NULL, x'00', 'h', 'new', 'k', 0, 0, 'c', NULL)", "next number"),
        ("UPDATE disclosure SET text = 'badge-9'", "never changed"),
    ],
)
def test_the_file_itself_refuses_changes(store: Store, outsider: sqlite3.Connection, statement: str, sentence: str) -> None:
    store.journal.append([note("a", by="badge-1"), note("b")])
    with pytest.raises(sqlite3.IntegrityError, match=sentence):
        outsider.execute(statement)
    assert [entry.id for entry in store.journal.entries()] == ["a", "b"]
    assert store.journal.verify().ok


def test_a_cut_tail_is_found_with_a_head_from_outside(store: Store, forger: Callable[..., Any]) -> None:
    store.journal.append([note(id) for id in "abc"])
    noted = store.journal.head().hash
    store.journal.append([note("d")])
    assert store.journal.verify(head=f" {noted.upper()}\n").ok
    forger("DELETE FROM journal WHERE seq > 2")
    assert store.journal.verify().ok  # nothing inside tells
    (problem,) = store.journal.verify(head=noted).problems
    assert noted in problem and "cut off" in problem
    assert "hexadecimal" in store.journal.verify(head="badge-17").problems[0]


@pytest.mark.parametrize(
    ("forgery", "sentence"),
    [
        ("DELETE FROM journal WHERE seq = 2", "Entry 3: expected number 2"),
        ("UPDATE journal SET seq = 9 WHERE seq = 2", "Entry 9: its bytes say that it is entry 2"),
        ("UPDATE journal SET seq = -4 WHERE seq = 2", "Entry -4"),
        ("UPDATE journal SET vehicle = NULL WHERE seq = 2", "Entry 2: column vehicle is nothing"),
        ("UPDATE journal SET bytes = (SELECT bytes FROM journal WHERE seq = 1) WHERE seq = 2", "Entry 2: its bytes say"),
        ("DELETE FROM journal WHERE seq = 3", "Entry 3: a text is disclosed for it, but there is no such entry"),
        ("INSERT INTO disclosure VALUES (1, 'by', x'00', 'badge-9')", "Entry 1: the disclosed 'by' belongs to no commitment"),
        ("UPDATE disclosure SET text = 'badge-9'", "Entry 3: the disclosed 'by' is not the text"),
    ],
)
def test_forgeries_are_named(store: Store, forger: Callable[..., Any], forgery: str, sentence: str) -> None:
    store.journal.append([note("a"), note("b"), note("c", by="badge-1")])
    forger(forgery)
    assert any(problem.startswith(sentence) for problem in store.journal.verify().problems), store.journal.verify().problems


def test_an_entry_that_cannot_be_read_says_which(store: Store, forger: Callable[..., Any]) -> None:
    store.journal.append([note("a"), note("b")])
    forger("UPDATE journal SET bytes = x'ff00' WHERE seq = 2")
    with pytest.raises(StoreError, match="journal entry 2: .*booth verify"):
        list(store.journal.entries())


def test_redaction_verifies_and_leaves_no_trace_on_the_disk(store: Store, tmp_path: Path) -> None:
    store.journal.append([note("a", by="badge-4711", reason="a family matter"), note("b", by="badge-2")])
    head = store.journal.head()
    files = lambda: b"".join(path.read_bytes() for path in (tmp_path / "store").iterdir())  # noqa: E731
    assert b"badge-4711" in files()
    store.journal.redact(1, ["by"])
    assert b"badge-4711" not in files() and b"a family matter" in files()
    assert store.journal.verify(head=head.hash).ok and store.journal.head() == head
    assert [entry.private for entry in store.journal.entries()] == [
        {"by": None, "reason": "a family matter"},
        {"by": "badge-2"},
    ]
    store.journal.redact(1, ["by"])  # once more does no harm


def test_redaction_of_what_is_not_there(store: Store) -> None:
    store.journal.append([note("a", by="badge-1", reason="leak")])
    with pytest.raises(StoreError, match="entry 1 has no private text 'name'; it has: by, reason"):
        store.journal.redact(1, ["by", "name"])
    assert store.journal.find("a").private["by"] == "badge-1"  # all or nothing
    with pytest.raises(StoreError, match="no journal entry 2"):
        store.journal.redact(2, ["by"])


def test_another_process_sees_new_entries_by_the_head(store: Store, tmp_path: Path) -> None:
    with Store.open(tmp_path / "store") as other:
        before = other.journal.head()
        store.journal.append([note("a")])
        assert other.journal.head().entries == before.entries + 1
        other.journal.append([note("b")])
        assert [entry.id for entry in store.journal.entries(after=1)] == ["b"]


@pytest.mark.parametrize(
    ("seq", "change", "sentence"),
    [
        (1, lambda data: data.replace(b"leak", b"none"), "Entry 2: it follows an entry with hash"),
        (2, lambda data: data + b" ", "Entry 2: its bytes are not RFC 8785"),
        (2, lambda data: data.replace(b'"v":1', b'"v":2'), "Entry 2: its bytes can't be read as an entry: its format is 2"),
    ],
)
def test_a_forger_who_computes_the_hash_again_is_named(
    store: Store, forger: Callable[..., Any], seq: int, change: Callable[[bytes], bytes], sentence: str
) -> None:
    store.journal.append([note("a", "leak"), note("b", "tight")])
    data = change(forger("SELECT bytes FROM journal WHERE seq = ?", seq).fetchone()[0])
    forger("UPDATE journal SET bytes = ?, hash = ? WHERE seq = ?", data, hashlib.sha256(data).hexdigest(), seq)
    (problem,) = store.journal.verify().problems
    assert problem.startswith(sentence)
