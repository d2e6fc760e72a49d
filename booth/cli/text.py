"""Text for a terminal: wrapped to its width, with wall-clock times that say the day where it isn't today's."""

from __future__ import annotations

import re
import shutil
import textwrap
from datetime import tzinfo

import typer

WIDEST = 100  # longer lines are hard to read, however wide the window
NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=[^\W\d]|[%°µ])")  # no line ends between them


def say(text: str, indent: int = 0, hanging: int = 2) -> None:
    """A paragraph, `indent` columns in; its further lines `hanging` columns further in."""
    typer.echo(wrapped(text, indent, hanging))


def wrapped(text: str, indent: int = 0, hanging: int = 2) -> str:
    width = max(40, min(WIDEST, shutil.get_terminal_size((80, 24)).columns))
    first, rest = " " * indent, " " * (indent + hanging)
    together = NUMBER_AND_UNIT.sub("\u00a0", text)
    filled = textwrap.fill(
        together, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False, break_long_words=False
    )
    return filled.replace("\u00a0", " ")


def when(text: str | None, zone: tzinfo, today: int) -> str:
    """`14:00`, or `13 Jul 14:00` where it was another day, or another year's with the year."""
    from booth.times import clock, parse_time, to_datetime

    if text is None:
        return "–"
    us = parse_time(text)
    then, now = to_datetime(us, zone), to_datetime(today, zone)
    if then.date() == now.date():
        return clock(us, zone)
    day = then.strftime("%d %b" if then.year == now.year else "%d %b %Y").lstrip("0")
    return f"{day} {clock(us, zone)}"


def cautions(texts: list[str]) -> None:
    """At the foot of whatever speaks about air."""
    typer.echo()
    for text in texts:
        say(f"! {text}")
