"""A record in the form that was asked for."""

from __future__ import annotations

import json
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from booth.judge.ledger import Ledger
from booth.reports.judged import Judged, judge_vehicle
from booth.reports.record import build_record
from booth.reports.record_traces import build_traces
from booth.reports.traces import Traces
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
    """Every van's record in every form, into a folder; returns the records by vehicle, in the order of their opening.

    Each PDF is set in a process of its own: the typesetter keeps what it once set, 80 MB a document, for as long as it lives.
    """
    folder.mkdir(parents=True, exist_ok=True)
    ledger = Ledger(store.journal.entries())
    judged = [judge_vehicle(shop, store, vehicle, as_of) for vehicle in ledger.vehicles]
    judged.sort(key=lambda one: (one.job.opened, one.job.vehicle))
    records = {one.job.vehicle: build_record(one) for one in judged}
    set_apart: list[Future] = []
    with ProcessPoolExecutor(2, get_context("spawn"), max_tasks_per_child=1) as pool:
        for one in judged:
            record, path = records[one.job.vehicle], folder / file_name(one.job.vehicle)
            if "pdf" in forms:
                set_apart.append(pool.submit(_write_pdf, record, build_traces(one), path.with_name(f"{path.name}.pdf")))
        for one in judged:
            record, path = records[one.job.vehicle], folder / file_name(one.job.vehicle)
            for form in forms:
                if form != "pdf":
                    path.with_name(f"{path.name}.{form}").write_bytes(document(one, record, form))
    for one in set_apart:
        one.result()  # what went wrong over there is said here
    return records


def _write_pdf(record: dict[str, Any], traces: Traces, path: Path) -> None:
    from booth.reports.pdf import render_pdf

    path.write_bytes(render_pdf(record, traces))


def file_name(vehicle: str) -> str:
    """A van's number as a file name that no file system minds."""
    return "".join(one if one.isalnum() or one in "-_" else "_" for one in vehicle) or "van"
