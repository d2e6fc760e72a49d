"""Quarantine: what came in and couldn't be used, kept for whoever mends the sender."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from booth.store.database import Database

PAYLOAD_BYTES = 4096


@dataclass(frozen=True)
class Quarantined:
    """One message refused. `origin` is the topic or file:line, `reason` a code word, `sentence` the same for people.

    Only the first 4 KiB of the payload are kept; `length` is that of the whole (None: of `payload` as given).
    """

    arrived: int
    reader: str
    origin: str
    reason: str
    sentence: str
    payload: bytes
    length: int | None = None


class Quarantine:
    """Everything refused, counted by reason."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def append(self, items: Iterable[Quarantined]) -> None:
        """Keep refused messages, all in one commit."""
        with self._database.transaction():
            self._database.execute_many(
                "INSERT INTO quarantine (arrived, reader, origin, reason, sentence, payload, length)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                [_row(item) for item in items],
            )

    def counts(self) -> dict[str, int]:
        """How many were refused for each reason."""
        return dict(self._database.rows("SELECT reason, count(*) FROM quarantine GROUP BY reason ORDER BY reason"))

    def recent(self, n: int) -> list[Quarantined]:
        """The last `n` refused, newest first."""
        rows = self._database.rows(
            "SELECT arrived, reader, origin, reason, sentence, payload, length FROM quarantine ORDER BY id DESC LIMIT ?",
            (max(n, 0),),
        )
        return [Quarantined(*row) for row in rows]

    def after(self, number: int, reason: str) -> list[tuple[int, Quarantined]]:
        """Those refused for this reason that came after a number, in order, each with its own."""
        rows = self._database.rows(
            "SELECT id, arrived, reader, origin, reason, sentence, payload, length FROM quarantine"
            " WHERE id > ? AND reason = ? ORDER BY id",
            (number, reason),
        )
        return [(row[0], Quarantined(*row[1:])) for row in rows]


def _row(item: Quarantined) -> tuple:
    length = len(item.payload) if item.length is None else item.length
    texts = (_storable(text) for text in (item.reader, item.origin, item.reason, item.sentence))
    return (item.arrived, *texts, bytes(item.payload[:PAYLOAD_BYTES]), length)


def _storable(text: str) -> str:
    """A refused message may quote half a surrogate pair, which is no UTF-8; it must not be refused a second time here."""
    return text.encode("utf-8", "backslashreplace").decode()
