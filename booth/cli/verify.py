"""`booth verify`: is the journal whole, and do the hashes of its evidence still hold? Or: is this record document true to it?"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, UsageError, emit, read_shop
from booth.cli.text import say

SHOWN = 12


def register(app: typer.Typer) -> None:
    app.command("verify")(verify)


def verify(
    document: Annotated[Path | None, typer.Argument(help="A record as JSON, to be held against the store.")] = None,
    head: Annotated[str | None, typer.Option(help="A head noted earlier: finds a journal whose tail was cut off.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """Check the journal's chain, the sealed readings' checksums and the evidence's hashes; or a record against them. Exit code 1
    when something is broken."""
    from booth.store import Store
    from booth.verifying import read_record, verify_evidence, verify_record

    if head is not None and not re.fullmatch(r"\s*[0-9a-fA-F]{64}\s*", head):
        raise UsageError(f"--head {head!r} is not a SHA-256; write its 64 hexadecimal digits, as 'booth verify' printed them")
    record = None if document is None else read_record(document)
    with Store.open(store) as opened:
        found = opened.journal.verify(head)
        problems = list(found.problems)
        readings = opened.readings.verify()
        checked, broken = verify_evidence(opened) if found.ok else (0, [])
        problems += [*broken, *readings.problems]  # what was judged on first
        false = verify_record(read_shop(config), opened, record) if record is not None and found.ok else []
    store_is_whole = not problems
    problems += false
    result = {
        "ok": not problems,
        "store_is_whole": store_is_whole,
        "entries": found.entries,
        "head": found.head,
        "sealed_hours": readings.hours,
        "evidence_checked": checked,
        "problems": problems,
    }
    if json_:
        emit(result)
    else:
        _print(result)
    if problems:
        raise SystemExit(1)


def _print(result: dict) -> None:
    for problem in result["problems"][:SHOWN]:
        say(problem)
    if len(result["problems"]) > SHOWN:
        typer.echo(f"… and {len(result['problems']) - SHOWN} more; --json has them all")
    typer.echo(f"{result['entries']} entries, head\n  {result['head']}")
    typer.echo(f"{result['sealed_hours']} sealed hours looked at")
    typer.echo(f"{result['evidence_checked']} evidence hashes checked")
    if result["ok"]:
        typer.echo("whole")
    elif result["store_is_whole"]:
        typer.echo("the store is whole; this record is not what it says")
    else:
        typer.echo("broken")
