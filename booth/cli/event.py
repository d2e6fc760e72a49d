"""`booth event`: put an event into the journal by hand."""

from __future__ import annotations

from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, UsageError, emit, moment, read_shop


def register(app: typer.Typer) -> None:
    app.command("event")(event)


def event(
    kind: Annotated[str, typer.Argument(help="What happened: step-start, check, note, concession, …")],
    facts: Annotated[
        list[str] | None, typer.Argument(help="Its facts as key=value: vehicle=TV-4103 step=clear-1; JSON values are taken.")
    ] = None,
    by: Annotated[str | None, typer.Option(help="Who did it: a badge or a name.")] = None,
    time: Annotated[str | None, typer.Option(help="When it happened (RFC 3339); now, if left out.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """Put an event into the journal. An event is never changed: a correction is an event of its own."""
    from booth.clocks import SystemClock
    from booth.event_checks import refuse
    from booth.intake import remember_config
    from booth.shop.admission import unknown_name
    from booth.shop.events import BY_PEOPLE_ONLY, EventError, read_event
    from booth.store import Draft, Store

    shop = read_shop(config)
    now = SystemClock().now()
    raw = {"event": kind} | dict(_fact(fact) for fact in facts or [])
    raw |= {name: value for name, value in (("by", by), ("time", time)) if value is not None}
    taken = read_event(raw, raw.get("booth"), now)
    if taken.kind in BY_PEOPLE_ONLY and not taken.private.get("by"):
        raise UsageError(f"a {taken.kind} is signed; write --by and the badge or name of who decides")
    problem = unknown_name(taken, shop)
    if problem:
        raise EventError(problem)
    with Store.open(store, create=True) as opened:
        if taken.time > moment(None, opened) + shop.site.judging.future_tolerance:
            raise EventError(f"{kind}: {time} is in the future; write when it happened, or leave --time out")
        remember_config(opened, shop, now)
        refuse(taken, shop, opened, now)
        entry = opened.journal.append([Draft(taken.kind, taken.body, taken.time, now, "cli", taken.id, taken.private)])[0].entry
    if json_:
        emit({"seq": entry.seq, "id": entry.id, "hash": entry.hash})
    else:
        typer.echo(f"entry {entry.seq}: {entry.kind}, id {entry.id}")


def _fact(text: str) -> tuple[str, object]:
    import json

    key, equals, value = text.partition("=")
    if not equals or not key:
        raise UsageError(f"{text!r} is not key=value; write for example vehicle=TV-4103")
    if value[:1] in "{[":
        try:
            return key, json.loads(value)
        except ValueError:
            raise UsageError(f'{key}: {value!r} is not JSON; write for example {key}=\'{{"flow": "32 gallon/min"}}\'') from None
    return key, value
