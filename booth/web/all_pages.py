"""Every page of the board, gathered from the modules that make them."""

from __future__ import annotations

from importlib import import_module

from booth.web.pages import Page

MODULES = (
    "home",
    "painter.booth_page",
    "painter.stream",
    "painter.label_page",
    "desk.booths",
    "desk.handover",
    "desk.records",
    "desk.record_page",
    "desk.ventilation_page",
    "desk.instruments",
    "people.sign_in",
    "people.first",
    "people.account_pages",
    "screen",
    "api.routes",
    "health",
    "static_files",
)
"""Each has PAGES. In the order of the navigation, and of matching."""

ALL_PAGES: tuple[Page, ...] = tuple(page for name in MODULES for page in import_module(f"booth.web.{name}").PAGES)
