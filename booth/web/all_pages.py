"""Every page of the board, gathered from the modules that make them."""

from __future__ import annotations

from importlib import import_module

from booth.web.pages import Page

MODULES = (
    *("home", "booth_page", "stream", "label_page", "booths", "handover", "records", "record_page", "ventilation_page"),
    *("instruments", "sign_in", "first", "account_pages", "screen", "api", "health", "static_files"),
)
"""Each has PAGES. In the order of the navigation, and of matching."""

ALL_PAGES: tuple[Page, ...] = tuple(page for name in MODULES for page in import_module(f"booth.web.{name}").PAGES)
