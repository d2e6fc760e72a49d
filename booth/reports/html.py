"""A document as one self-contained HTML file: no script, nothing fetched; for a screen, a phone and a printer."""

from __future__ import annotations

from html import escape
from importlib.resources import files

from booth.reports import svg
from booth.reports.blocks import Block, Cell, Figure, Section, Table, Text
from booth.reports.outline import Outline, outline
from booth.reports.traces import Traces


def render_html(record: dict, traces: Traces) -> str:
    """The document's text. `record` is the JSON contract's object; raises KeyError where a key of it is missing."""
    return render_outline(outline(record, traces))


def render_outline(told: Outline) -> str:
    """Any document of ours."""
    style = files("booth.reports").joinpath("record.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{escape(told.title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n"
        f"{_header(told)}\n<main>\n{_verdict(told)}\n{''.join(map(_section, told.sections))}</main>\n"
        f"<footer><p>{escape(told.title)}. {escape(told.foot)}</p></footer>\n</body>\n</html>\n"
    )


def _header(told: Outline) -> str:
    facts = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in told.facts)
    return f"<header>\n<p class=kind>{escape(told.kind)}</p>\n<h1>{escape(told.subject)}</h1>\n<dl>{facts}</dl>\n</header>"


def _verdict(told: Outline) -> str:
    warnings = "".join(f"<li>{escape(warning)}</li>" for warning in told.warnings)
    sentences = "".join(f"<li>{escape(sentence)}</li>" for sentence in told.sentences)
    head = '<section class="verdict" aria-label="Summary">\n'
    if told.verdict is not None:
        head = (
            f'<section class="verdict {told.verdict}" aria-label="Verdict">\n<h2>{_word(told.verdict)}</h2>\n'
            f"<p><strong>{escape(told.meaning)}</strong> {escape(told.counts)}</p>\n"
        )
    return (
        head
        + (f"<ul>{sentences}</ul>\n" if sentences else "")
        + (f'<ul class="warnings">{warnings}</ul>\n' if warnings else "")
        + f'<p class="foot">{escape(told.foot)}</p></section>'
    )


def _word(verdict: str) -> str:
    return f'<span class="word {verdict}">{_inline(svg.verdict_mark(verdict))}{escape(verdict)}</span>'


def _inline(drawn: str) -> str:
    """A drawing inside HTML needs no namespace, and the file then holds no address at all."""
    return drawn.replace(f' xmlns="{svg.XMLNS}"', "")


def _section(section: Section) -> str:
    return f"<section>\n<h2>{escape(section.title)}</h2>\n{''.join(map(_block, section.blocks))}</section>\n"


def _block(block: Block) -> str:
    if isinstance(block, Text):
        return f"<p>{escape(block.text)}</p>\n"
    if isinstance(block, Figure):
        # The frame scrolls sideways on a phone, so the keyboard must reach it.
        drawn = f'<div class="frame" tabindex="0" role="group" aria-label="{escape(block.title)}">{_inline(block.svg)}</div>'
        return f"<figure>\n<h3>{escape(block.title)}</h3>\n{drawn}\n<figcaption>{escape(block.caption)}</figcaption>\n</figure>\n"
    return _table(block)


def _table(table: Table) -> str:
    heading = f"<h3>{escape(table.title)}</h3>\n" if table.title else ""
    about = f'<p class="about">{escape(table.about)}</p>\n' if table.about else ""
    titles = [title for title, _ in table.columns]
    columns = "".join(f'<col style="width:{share}%">' for _, share in table.columns)
    head = "".join(f'<th scope="col">{escape(title)}</th>' for title in titles)
    rows = "".join(f"<tr>{''.join(map(_cell, row, titles))}</tr>\n" for row in table.rows)
    body = f"<table>\n<colgroup>{columns}</colgroup>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n"
    return heading + about + body


def _cell(cell: Cell, title: str) -> str:
    strong = f"<strong>{escape(cell.strong)}</strong> " if cell.strong else ""
    verdict = _word(cell.verdict) if cell.verdict else ""
    words = escape(cell.text)
    main = f"<div>{strong}{verdict}{f'<code>{words}</code>' if cell.mono else words}</div>"
    notes = "".join(f'<div class="note">{escape(note)}</div>' for note in cell.notes)
    return f'<td data-title="{escape(title)}">{main}{notes}</td>'
