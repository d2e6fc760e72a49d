"""`booth trace`: which other vans shared a lot, a booth, or a shift with this one."""

from __future__ import annotations

from collections.abc import Collection
from difflib import get_close_matches
from typing import Annotated

import typer

from booth.cli.app import STORE, JsonOption, StoreOption, UsageError, emit
from booth.cli.text import say


def register(app: typer.Typer) -> None:
    app.command("trace")(trace)


def trace(
    lot: Annotated[str | None, typer.Option(help="Vans that a lot went onto.")] = None,
    booth: Annotated[str | None, typer.Option(help="Vans that stood in a booth; with --from and --to.")] = None,
    from_: Annotated[str | None, typer.Option("--from", help="RFC 3339.")] = None,
    to: Annotated[str | None, typer.Option("--to", help="RFC 3339.")] = None,
    near: Annotated[str | None, typer.Option(help="Vans that shared a lot, or a booth within a day, with this one.")] = None,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """Which vans share a lot, a booth or a shift."""
    from booth.judge.ledger import Ledger
    from booth.judge.tracing import booths_named, lots_named, near_vehicle, vehicles_in_booth, vehicles_with_lot
    from booth.store import Store
    from booth.times import parse_time

    if sum(option is not None for option in (lot, booth, near)) != 1:
        raise UsageError('say what to trace by; write --lot "H-7731", --booth north, or --near TV-4103')
    if booth is None and (from_ or to):
        raise UsageError("--from and --to belong to --booth; write --booth north --from … --to …, or leave them out")
    with Store.open(store) as opened:
        entries = list(opened.journal.entries())
    ledger = Ledger(entries)
    if lot is not None:
        found = vehicles_with_lot(ledger, lot)
        if not found:  # in a recall a slip of the pen must not read like "none"
            _refuse_unknown("lot", lot, lots_named(entries), "that any mix names")
    elif booth is not None:
        found = vehicles_in_booth(ledger, booth, parse_time(from_) if from_ else 0, parse_time(to) if to else 2**62)
        if not found:
            _refuse_unknown("booth", booth, booths_named(entries), "that a van was ever loaded into")
    else:
        if ledger.job(near) is None:
            raise UsageError(f"no job was opened for {near!r}; known vehicles: {', '.join(ledger.vehicles) or 'none yet'}")
        found = near_vehicle(ledger, near)
    if json_:
        emit({"vehicles": [{"vehicle": vehicle, "because": because} for vehicle, because in found.items()]})
        return
    for vehicle, because in found.items():
        say(f"{vehicle}: {'; '.join(because)}")
    typer.echo(f"{len(found)} vehicle{'s' if len(found) != 1 else ''}")


def _refuse_unknown(what: str, given: str, known: Collection[str], described: str) -> None:
    """Raises UsageError unless it is known, with those that are written most like it."""
    if given in known:
        return
    folded = {one.casefold(): one for one in sorted(known)}
    near = [folded[one] for one in get_close_matches(given.casefold(), folded, 3, 0.5)]
    raise UsageError(f"{given!r} is no {what} {described}; nearest: {', '.join(near) or 'none'}")
