"""A record in the form that was asked for."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from booth.reports.record import Judged, build_record, judge_vehicle
from booth.reports.record_traces import build_traces
from booth.shop.shop import Shop
from booth.store import Store


def document(judged: Judged, record: dict[str, Any], form: str, paper: str = "a4") -> bytes:
    """The bytes of a record as pdf, html, json or csv."""
    if form == "json":
        return json.dumps(record, ensure_ascii=False, indent=2, allow_nan=False).encode()
    if form == "csv":
        from booth.reports.spreadsheet import record_csv

        return record_csv(record).encode()
    traces = build_traces(judged)
    if form == "html":
        from booth.reports.html import render_html

        return render_html(record, traces).encode()
    from booth.reports.pdf import render_pdf

    return render_pdf(record, traces, paper)


def write_documents(
    shop: Shop, store: Store, folder: Path, as_of: int, forms: tuple[str, ...] = ("pdf", "html", "json")
) -> dict[str, dict]:
    """Every van's record in every form, into a folder; returns the records by vehicle."""
    from booth.judge.ledger import Ledger

    folder.mkdir(parents=True, exist_ok=True)
    records = {}
    for vehicle in Ledger(store.journal.entries()).vehicles:
        judged = judge_vehicle(shop, store, vehicle, as_of)
        records[vehicle] = build_record(judged)
        for form in forms:
            (folder / f"{file_name(vehicle)}.{form}").write_bytes(document(judged, records[vehicle], form))
    return records


def file_name(vehicle: str) -> str:
    """A van's number as a file name that no file system minds."""
    return "".join(one if one.isalnum() or one in "-_" else "_" for one in vehicle) or "van"
