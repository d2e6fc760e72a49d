"""The findings as CSV: read back with the csv module; no cell begins as a formula (OWASP, "CSV Injection")."""

from __future__ import annotations

import copy
import csv
import io

import pytest

from booth.reports.spreadsheet import COLUMNS, record_csv
from booth.reports.words import all_findings


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_a_row_for_each_finding_with_every_column(record: dict) -> None:
    read = rows(record_csv(record))
    found = list(all_findings(record))
    assert len(read) == len(found) and tuple(read[0]) == COLUMNS
    for row, (number, step, finding) in zip(read, found, strict=True):
        assert row["vehicle"] == record["vehicle"] and row["round"] == str(number) and row["step"] == (step or "")
        assert row["sentence"] == finding["sentence"] and row["verdict"] == finding["verdict"]
        assert row["low"] == ("" if finding["low"] is None else str(finding["low"]))
    late = next(row for row in read if row["requirement"] == "bake start")
    assert late["margin"] == "-850.0"  # a number stays a number, minus sign and all
    assert next(row for row in read if row["requirement"] == "pot life")["as_issued_verdict"] == "unproven"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", " =", "＝", "%0A=", "|"])
def test_formulas_become_text(record: dict, start: str) -> None:
    changed = copy.deepcopy(record)
    changed["vehicle"] = changed["rounds"][0]["steps"][0]["findings"][0]["sentence"] = f"{start}cmd|' /C calc'!A0"
    read = rows(record_csv(changed))
    assert all(row["vehicle"].startswith("'") for row in read)
    assert not [cell for row in read for name, cell in row.items() if name != "margin" and cell[:1] in tuple("=+-@\t\r＝")]
