"""The journal: appended to by any process, changed by none."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Iterator

from booth.store import chain
from booth.store.chain import ChainError, Disclosure, Row
from booth.store.database import Database, StoreError
from booth.store.entry import Appended, Draft, Entry, Head, Verification

_PAGE = 500  # rows read at once: memory stays small however long the journal is
_BEFORE_ALL = -(2**63)
# A damaged row may say that its bytes are a text, or its text bytes; what they are decides the chain.
_ENTRIES = "SELECT seq, CAST(bytes AS BLOB) FROM journal"
_DISCLOSED = "SELECT seq, CAST(name AS TEXT), CAST(text AS TEXT) FROM disclosure WHERE seq BETWEEN ? AND ?"


class Journal:
    """Everything that people and the logger said and did, oldest first."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def append(self, drafts: Iterable[Draft]) -> list[Appended]:
        """Add entries at the chain's end, all in one commit, and return each with its place.

        An id that the journal (or the batch) already has is the same event again: the entry that is there comes back with `new`
        false, even if the draft says something else. Raises StoreError when a draft isn't plain JSON; then none is kept.
        """
        with self._database.transaction():
            return [self._append_one(draft) for draft in drafts]

    def head(self) -> Head:
        """The chain's end; one index look-up, so cheap enough to poll for entries of other processes."""
        row = self._database.row("SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1")
        return Head(*row) if row else Head(0, chain.GENESIS)

    def find(self, id: str) -> Entry | None:
        """The entry with this id, or None."""
        entries = self._read(f"{_ENTRIES} WHERE id = ?", (id,))
        return entries[0] if entries else None

    def entries(self, after: int = 0, vehicle: str | None = None, kinds: Collection[str] | None = None) -> Iterator[Entry]:
        """Entries with a number above `after`, in order.

        `vehicle` asks for those whose body names it as `vehicle` (an entry about a whole load does not), `kinds` for those of
        one of these kinds; given both, both must hold. Raises StoreError for an entry that can't be read.
        """
        conditions, parameters = ["seq > ?"], []
        if vehicle is not None:
            conditions.append("vehicle = ?")
            parameters.append(vehicle)
        if kinds is not None:
            conditions.append(f"kind IN ({', '.join('?' * len(kinds))})")
            parameters += kinds
        sql = f"{_ENTRIES} WHERE {' AND '.join(conditions)} ORDER BY seq LIMIT {_PAGE}"
        while page := self._read(sql, (after, *parameters)):
            yield from page
            after = page[-1].seq

    def redact(self, seq: int, names: Collection[str]) -> None:
        """Delete private texts of an entry for good; the chain still verifies. Who asked for it and why is an entry of its own,
        which the caller appends. Copies and backups made before still have the texts. Raises StoreError for an unknown name.
        """
        with self._database.transaction():
            entry = next(self.entries(after=seq - 1), None)
            if entry is None or entry.seq != seq:
                raise StoreError(f"{self._database.path}: there is no journal entry {seq}")
            for name in names:
                if name not in entry.private:
                    known = ", ".join(entry.private) or "none"
                    raise StoreError(f"journal entry {seq} has no private text {name!r}; it has: {known}")
                self._database.execute("DELETE FROM disclosure WHERE seq = ? AND name = ?", (seq, name))
        if not self._database.in_transaction:  # else old pages with the text stay in the write-ahead log
            self._database.rows("PRAGMA wal_checkpoint(TRUNCATE)")

    def verify(self, head: str | None = None) -> Verification:
        """Check every entry, hash, column and disclosure; with `head` (a hash noted elsewhere), that nothing was cut off.

        Damage is reported, not raised: problems are sentences that name the entry.
        """
        damage: list[str] = []
        found = chain.verify(self._rows(damage), head.strip().lower() if head is not None else None)
        problems = (*found.problems, *damage, *self._structure_problems())
        return Verification(not problems, found.entries, found.head, problems)

    def _append_one(self, draft: Draft) -> Appended:
        known = self.find(draft.id)
        if known:
            return Appended(known, new=False)
        head = self.head()
        seq = head.entries + 1
        salts = {name: os.urandom(chain.SALT_BYTES) for name in draft.private}
        try:
            data = chain.encode(draft, seq, head.hash, salts)
            columns = chain.index_columns(chain.decode(data))
        except ChainError as problem:
            raise StoreError(f"{self._database.path}: a {draft.kind!r} entry can't be written: {problem}") from None
        self._database.execute(
            f"INSERT INTO journal (seq, bytes, hash, {', '.join(columns)}) VALUES (?, ?, ?{', ?' * len(columns)})",
            (seq, data, chain.sha256(data), *columns.values()),
        )
        self._database.execute_many(
            "INSERT INTO disclosure (seq, name, salt, text) VALUES (?, ?, ?, ?)",
            [(seq, name, salts[name], text) for name, text in draft.private.items()],
        )
        return Appended(chain.entry_of(data, draft.private), new=True)

    def _read(self, sql: str, parameters: tuple) -> list[Entry]:
        """Entries of a query for (seq, bytes) in ascending order, with their disclosures."""
        rows = self._database.rows(sql, parameters)
        if not rows:
            return []
        disclosed: dict[int, dict[str, str]] = {}
        for seq, name, text in self._database.rows(_DISCLOSED, (rows[0][0], rows[-1][0])):
            disclosed.setdefault(seq, {})[name] = text
        return [self._entry(seq, data, disclosed.get(seq, {})) for seq, data in rows]

    def _entry(self, seq: int, data: bytes, disclosures: dict[str, str]) -> Entry:
        try:
            return chain.entry_of(data, disclosures)
        except ChainError as problem:
            raise StoreError(f"{self._database.path}: journal entry {seq}: {problem}; see 'booth verify'") from None

    def _rows(self, damage: list[str]) -> Iterator[Row]:
        """All rows as they lie in the file, even if bytes are garbage; what SQLite itself can't read goes to `damage`."""
        names = ("hash", *chain.INDEXED)
        casts = ", ".join(f"CAST({name} AS BLOB)" for name in ("bytes", *names))
        sql = f"SELECT seq, {casts} FROM journal WHERE seq > ? ORDER BY seq LIMIT {_PAGE}"
        after = _BEFORE_ALL
        try:
            while page := self._database.rows(sql, (after,)):
                if not all(isinstance(seq, int) for seq, *_ in page):  # the table's own description is damaged
                    raise StoreError("the numbers of the entries aren't numbers")
                disclosures = self._disclosures(after, page[-1][0])
                for seq, data, *columns in page:
                    yield Row(seq, data or b"", dict(zip(names, columns, strict=True)), tuple(disclosures.get(seq, ())))
                after = page[-1][0]
        except StoreError as problem:
            damage.append(f"After entry {max(after, 0)} nothing can be read: {problem}.")

    def _disclosures(self, after: int, last: int) -> dict[int, list[Disclosure]]:
        found: dict[int, list[Disclosure]] = {}
        for seq, *fields in self._database.rows(
            "SELECT seq, CAST(name AS BLOB), CAST(salt AS BLOB), CAST(text AS BLOB) FROM disclosure WHERE seq > ? AND seq <= ?",
            (after, last),
        ):
            found.setdefault(seq, []).append(Disclosure(*(field or b"" for field in fields)))
        return found

    def _structure_problems(self) -> Iterator[str]:
        """What SQLite finds by itself: damaged pages, indexes that leave rows out, disclosures without an entry."""
        try:
            for table in ("journal", "disclosure"):
                for (sentence,) in self._database.rows(f"PRAGMA integrity_check({table})"):
                    if sentence != "ok":
                        yield f"Table {table}: {sentence}."
            for (seq,) in self._database.rows("SELECT DISTINCT seq FROM disclosure WHERE seq NOT IN (SELECT seq FROM journal)"):
                yield f"Entry {seq}: a text is disclosed for it, but there is no such entry."
        except StoreError as problem:
            yield f"The journal's tables can't be checked: {problem}."
