"""`booth redact`: delete a personal or free text of a journal entry for good."""

from __future__ import annotations

from typing import Annotated

import typer

from booth.cli.app import STORE, JsonOption, StoreOption, UsageError, emit


def register(app: typer.Typer) -> None:
    app.command("redact")(redact)


def redact(
    seq: Annotated[int, typer.Argument(help="The entry's number in the journal.")],
    name: Annotated[list[str], typer.Option(help="Which text: by, reason or text. May be given more than once.")],
    reason: Annotated[str, typer.Option(help="Why; it stays in the journal.")],
    by: Annotated[str, typer.Option(help="Who decides it: a badge or a name.")],
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """Delete a personal text of an entry for good. The journal still verifies; copies made before still have the text."""
    from booth.clocks import SystemClock
    from booth.store import Draft, Store

    with Store.open(store) as opened:
        entry = next(opened.journal.entries(after=seq - 1), None)
        if entry is None or entry.seq != seq:
            raise UsageError(f"there is no journal entry {seq}; write a number from 1 to {opened.journal.head().entries}")
        unknown = [one for one in name if one not in entry.private]
        if unknown:
            known = ", ".join(entry.private) or "none"
            raise UsageError(f"entry {seq} ({entry.kind}) has no text {unknown[0]!r}; it has: {known}")
        now = SystemClock().now()
        # First the entry that says so: a text must not vanish without a trace, even if the power fails in between.
        draft = Draft("redaction", {"redacts": seq, "names": name}, now, now, "cli", private={"by": by, "reason": reason})
        written = opened.journal.append([draft])[0].entry
        opened.journal.redact(seq, name)
    if json_:
        emit({"seq": written.seq, "redacts": seq, "names": name})
    else:
        typer.echo(f"entry {seq}: {', '.join(name)} redacted; entry {written.seq} says so. Backups still have the text.")
