"""The pieces that a document is made of."""

from __future__ import annotations

from dataclasses import dataclass

from booth.reports.figures import Figure


@dataclass(frozen=True)
class Cell:
    """A cell of a table: a text, smaller notes under it, or a verdict whose word and shape stand before them."""

    text: str
    notes: tuple[str, ...] = ()
    verdict: str | None = None
    strong: str = ""  # words in heavy type before the text
    mono: bool = False


@dataclass(frozen=True)
class Table:
    """Columns as (title, share of the width), and rows of as many cells."""

    columns: tuple[tuple[str, int], ...]
    rows: tuple[tuple[Cell, ...], ...]
    title: str = ""
    about: str = ""  # one line under the title


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    text: str
    mono: bool = False


Block = Table | Text | Figure


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it; a section without blocks is left out of the document."""

    title: str
    blocks: tuple[Block, ...]


def table(columns: str, rows: list[tuple[Cell | str, ...]], title: str = "", about: str = "") -> tuple[Table, ...]:
    """One table from columns written `Time 2 | Result 1`, or none where there are no rows."""
    titles = [column.strip().rpartition(" ") for column in columns.split("|")]
    cells = tuple(tuple(cell if isinstance(cell, Cell) else Cell(cell) for cell in row) for row in rows)
    return (Table(tuple((name, int(share)) for name, _, share in titles), cells, title, about),) if rows else ()
