"""How a sum is told on the terminal: what came out, each step of the working, the rule with its source, the caution."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import typer

from booth.cli.app import emit
from booth.cli.text import say

if TYPE_CHECKING:
    from booth.reports.working import Working


def tell(made: Working, json_: bool) -> None:
    if json_:
        emit(asdict(made))
        return
    say(f"{made.sentence}.")
    typer.echo()
    for line in made.lines:
        say(line, 2)
    say(f"Rule: {made.rule}.", 2)
    typer.echo()
    say(f"! {made.caution}")
