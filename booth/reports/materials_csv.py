"""Materials as CSV: a row for each month, booth and product; empty is missing, and `missing` says what is."""

from __future__ import annotations

from typing import Any

from booth.reports.spreadsheet import rows_csv

COLUMNS = ("month", "booth", "product", "use", "entries", "litres", "voc_kg", "hap_kg", "solids_l", "lots", "missing")
TWELVE = ("litres", "voc_kg", "hap_kg", "solids_l", "hap_by_solids")


def materials_csv(made: dict[str, Any]) -> str:
    rows = [[_cell(row[name]) for name in COLUMNS] for row in made["products"]]
    return rows_csv(COLUMNS, rows)


def months_csv(made: dict[str, Any]) -> str:
    """A row for each month with its twelve-month sums."""
    header = ("month", *TWELVE, *(f"twelve_months_{name}" for name in TWELVE), "missing", "twelve_months_missing")
    rows = [
        [row["month"], *(row[name] for name in TWELVE), *(row["twelve_months"][name] for name in TWELVE)]
        + [_cell(row["missing"]), _cell(row["twelve_months"]["missing"])]
        for row in made["months"]
    ]
    return rows_csv(header, rows)


def _cell(value: object) -> object:
    return "; ".join(value) if isinstance(value, list) else value
