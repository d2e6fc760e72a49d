"""Confusion matrices: what was so, in four classes, against what was said."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from tests.truth.shift import Row

CLASSES = ("met by more than U", "met within U", "missed within U", "missed by more than U")
VERDICTS = ("met", "unproven", "missed")


def matrices(rows: Sequence[Row]) -> Iterator[str]:
    """One for each way in which instruments can fail a verdict, by kind of requirement, as Markdown."""
    known = [row for row in rows if row.margin is not None]
    papers = sum(row.margin is None for row in rows)
    groups = {
        "Nothing wrong, or a fault that an instrument shows": [row for row in known if not row.hidden],
        "A fault that no single instrument can show, or that this shop doesn't look for": [row for row in known if row.hidden],
    }
    for name, own in groups.items():
        if not own:
            continue
        yield f"{name} ({len(own)} findings)\n\n{_table(own)}"
    yield f"Not in the tables: {papers} findings that papers decide, not air and clock."


def _table(rows: Sequence[Row]) -> str:
    kinds = sorted({row.kind for row in rows})
    heads = [f"{short} → {verdict}" for short in ("met >U", "met ≤U", "missed ≤U", "missed >U") for verdict in VERDICTS]
    lines = ["| kind | " + " | ".join(heads) + " |", "| --- |" + " ---: |" * len(heads)]
    for kind in kinds:
        lines.append(_line(kind, [row for row in rows if row.kind == kind]))
    return "\n".join([*lines, _line("all", rows)])


def _line(name: str, rows: Sequence[Row]) -> str:
    counted = Counter((row.truth, row.verdict) for row in rows)
    cells = [counted[truth, verdict] for truth in CLASSES for verdict in VERDICTS]
    return f"| {name} | " + " | ".join(str(cell) if cell else "" for cell in cells) + " |"


PROBABLE = {
    "below 2.3 % (missed)": (0, 0.0228),
    "2.3 % to 50 %": (0.0228, 0.5),
    "50 % to 97.7 %": (0.5, 0.9772),
    "above 97.7 % (met)": (0.9772, 1.01),
}
"""Probabilities of conformity, in groups; 2.28 % lie beyond two standard deviations on one side."""


def probabilities(rows: Sequence[Row]) -> str:
    """How many were truly met of those that stated such a probability, where nothing was wrong; as Markdown."""
    known = [row for row in rows if row.margin is not None and row.probability is not None and not row.ills]
    lines = ["| stated | findings | truly met |", "| --- | ---: | ---: |"]
    for name, (low, high) in PROBABLE.items():
        own = [row for row in known if low <= row.probability < high]
        share = f"{100 * sum(row.margin >= 0 for row in own) / len(own):.1f} %" if own else ""
        lines.append(f"| {name} | {len(own):,} | {share} |")
    return "\n".join(lines)


def wrong_rows(rows: Sequence[Row]) -> list[Row]:
    """Worst first: said to be met by the least right, measured in stated uncertainties; then what was wrongly called missed."""
    wrong = [row for row in rows if row.wrong]
    return sorted(wrong, key=lambda row: (row.hidden, row.verdict != "met", -_in_uncertainties(row)))


def _in_uncertainties(row: Row) -> float:
    return abs(row.margin) / row.uncertainty if row.uncertainty else float("inf")
