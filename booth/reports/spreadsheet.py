"""The findings as CSV rows, for whoever counts them in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from booth.reports.words import all_findings, clean

_FINDING = (
    "requirement", "kind", "zone", "verdict", "final", "sentence", "limit_text", "source", "observed_text", "quantity", "unit",
    "low", "high", "observed", "margin", "uncertainty", "probability", "start", "end", "span_source", "coverage", "largest_gap_s",
    "remedied_by", "evidence_sha256",
)  # fmt: skip
COLUMNS = ("vehicle", "round", "step", *_FINDING, "as_issued_verdict", "as_issued_sentence")

# A spreadsheet runs a cell that begins with one of these as a formula (the wide forms too); an apostrophe makes it text.
_FORMULA = "=+-@\t\r\n|%＝＋－＠"


def record_csv(record: dict) -> str:
    """One header row and one row for each finding, RFC 4180 (comma, CRLF); times RFC 3339 in UTC, numbers as they are."""
    made = []
    for number, step, finding in all_findings(record):
        issued = finding["as_issued"] or {"verdict": None, "sentence": None}
        values = (finding[key] for key in _FINDING)
        made.append((record["vehicle"], number, step, *values, issued["verdict"], issued["sentence"]))
    return rows_csv(COLUMNS, made)


def rows_csv(header: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """Any table as CSV, with what a spreadsheet would run made text."""
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(map(_guarded, row) for row in rows)
    return written.getvalue()


def _guarded(value: object) -> object:
    if not isinstance(value, str):
        return {None: "", True: "yes", False: "no"}[value] if value is None or isinstance(value, bool) else value
    dangerous = value.lstrip(" \u00a0").startswith(tuple(_FORMULA))
    return ("'" if dangerous else "") + clean(value)
