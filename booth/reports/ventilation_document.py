"""A ventilation log in the form that was asked for."""

from __future__ import annotations

import json
from typing import Any

from booth.reports.traces import Traces
from booth.reports.ventilation import log_room
from booth.reports.ventilation_figures import build_traces
from booth.shop.shop import Shop
from booth.store import Store
from booth.times import parse_time

FORMS = ("pdf", "html", "json", "csv")


def ventilation_document(shop: Shop, store: Store, log: dict[str, Any], form: str, paper: str = "a4") -> bytes:
    """The bytes of a log as pdf, html, json or csv. `log` is build_ventilation's."""
    if form == "json":
        return json.dumps(log, ensure_ascii=False, indent=2, allow_nan=False).encode()
    if form == "csv":
        from booth.reports.ventilation_csv import ventilation_csv

        return ventilation_csv(log).encode()
    return rendered(log, traces_of(shop, store, log), form, paper)


def traces_of(shop: Shop, store: Store, log: dict[str, Any]) -> Traces:
    """The readings that a log's charts show."""
    start, end = parse_time(log["from"]), parse_time(log["to"])
    return build_traces(log_room(shop, store, log["booth"], end, parse_time(log["issued"])), start, end)


def rendered(log: dict[str, Any], traces: Traces, form: str, paper: str = "a4") -> bytes:
    """The pages of a log, as pdf or html."""
    from booth.reports.ventilation_outline import ventilation_outline

    told = ventilation_outline(log, traces)
    if form == "html":
        from booth.reports.html import render_outline

        return render_outline(told).encode()
    from booth.reports.pdf import set_pages

    return set_pages(told, paper)
