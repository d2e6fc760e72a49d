"""Names of points and units: texts that come again with every reading, kept once under a small number."""

from __future__ import annotations

from booth.store.database import Database


class Texts:
    """One table of texts. A number that was once read never changes."""

    def __init__(self, database: Database, table: str) -> None:
        self._database = database
        self._table = table
        self._numbers: dict[str, int] = {}
        self._texts: dict[int, str] = {}
        database.when_rolled_back.append(self._forget)

    def keep(self, text: str) -> int:
        """The number of a text, which gets one if it has none."""
        number = self._numbers.get(text)
        if number is None:
            self._database.execute(f"INSERT OR IGNORE INTO {self._table} (text) VALUES (?)", (text,))
            number = self.number(text)
        return number

    def number(self, text: str) -> int | None:
        """The number of a text, or None; another process may have given it one since we last looked."""
        if text not in self._numbers:
            row = self._database.row(f"SELECT id FROM {self._table} WHERE text = ?", (text,))
            if row is None:
                return None
            self._numbers[text] = row[0]
        return self._numbers[text]

    def text(self, number: int) -> str:
        if number not in self._texts:
            self._texts[number] = self._database.row(f"SELECT text FROM {self._table} WHERE id = ?", (number,))[0]
        return self._texts[number]

    def fresh(self, number: int) -> str | None:
        """What the table says now, or None; for checking, which must not believe what was read earlier."""
        row = self._database.row(f"SELECT text FROM {self._table} WHERE id = ?", (number,))
        return row[0] if row else None

    def all(self) -> dict[str, int]:
        """Every text and its number, in the order of the texts."""
        return dict(self._database.rows(f"SELECT text, id FROM {self._table} ORDER BY text"))

    def _forget(self) -> None:
        self._numbers.clear()
        self._texts.clear()
