"""`booth verify`: is the journal whole, and do the hashes of its evidence still hold? Or: is this record document true to it?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, emit


def register(app: typer.Typer) -> None:
    app.command("verify")(verify)


def verify(
    document: Annotated[Path | None, typer.Argument(help="A record as JSON, to be held against the store.")] = None,
    head: Annotated[str | None, typer.Option(help="A head noted earlier: finds a journal whose tail was cut off.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """Check the journal's chain and the evidence's hashes; or a record against them. Exit code 1 when something is broken."""
    from booth.store import Store
    from booth.verifying import verify_evidence, verify_record

    with Store.open(store) as opened:
        found = opened.journal.verify(head)
        problems = list(found.problems)
        checked, broken = verify_evidence(opened) if found.ok else (0, [])
        problems += broken
        if document is not None:
            problems += verify_record(opened, document, found)
    result = {"ok": not problems, "entries": found.entries, "head": found.head, "evidence_checked": checked, "problems": problems}
    if json_:
        emit(result)
    else:
        for problem in problems:
            typer.echo(problem)
        typer.echo(f"{found.entries} entries, head {found.head}")
        typer.echo(f"{checked} evidence hashes checked")
        typer.echo("broken" if problems else "whole")
    if problems:
        raise SystemExit(1)
