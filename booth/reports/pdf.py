"""A document as a PDF/A-2b for the file and for the customer: the same outline, set in pages.

The record's texts reach the typesetter as JSON in one input string, never as part of its source, so that nothing in them can be
a command. Only fonts inside the typesetter are used: the same record gives the same bytes on every machine.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from importlib.resources import files

from booth.reports import svg
from booth.reports.outline import Outline, outline
from booth.reports.traces import Traces
from booth.reports.words import codepoint
from booth.times import SECOND, parse_time

PAPERS = ("a4", "us-letter")
_NO_GLYPH = re.compile(r"the text `\"(.+?)\"` could not be displayed", re.DOTALL)


def render_pdf(record: dict, traces: Traces, paper: str = "a4") -> bytes:
    """The document's bytes, the same for the same record. `paper` is `a4` or `us-letter`; ValueError for another."""
    return set_pages(outline(record, traces), paper)


def set_pages(told: Outline, paper: str = "a4") -> bytes:
    """Any document of ours. ValueError for a paper that isn't one."""
    if paper not in PAPERS:
        raise ValueError(f"{paper!r} is not a paper of ours; write one of: {', '.join(PAPERS)}")
    data = json.dumps(_for_pages(told, paper), ensure_ascii=False)
    issued = parse_time(told.issued_at) // SECOND
    return _compile(data, issued)


def _for_pages(told: Outline, paper: str) -> dict:
    """The outline as JSON data, each block with its kind, and what only pages need."""
    data = asdict(told)
    for section, shown in zip(data["sections"], told.sections, strict=True):
        for block, kind in zip(section["blocks"], shown.blocks, strict=True):
            block["kind"] = type(kind).__name__.lower()
    marks = {verdict: svg.verdict_mark(verdict) for verdict in svg.MARK_COLOURS}
    return data | {"paper": paper, "marks": marks, "colours": svg.MARK_COLOURS}


def _compile(data: str, issued: int) -> bytes:
    import typst  # 14 ms that `booth --help` must not pay

    source = files("booth.reports").joinpath("record.typ").read_bytes()
    settings = {"format": "pdf", "pdf_standards": ["a-2b"], "ignore_system_fonts": True, "timestamp": issued}
    try:
        return typst.compile(source, sys_inputs={"data": data}, **settings)
    except typst.TypstError as problem:
        missing = set("".join(_NO_GLYPH.findall(problem.diagnostic)))
        if not missing:
            raise
        # PDF/A forbids a letter without a picture. The JSON and HTML keep it; the page gives its number, and says so.
        written = data.translate({ord(char): codepoint(char) for char in missing if ord(char) > 127})
        return typst.compile(source, sys_inputs={"data": written, "substituted": "yes"}, **settings)
