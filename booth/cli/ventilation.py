"""`booth ventilation`: one booth's ventilation log as a summary, JSON, HTML, PDF or CSV."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, emit, moment, read_shop
from booth.cli.record import Format, Paper
from booth.cli.text import cautions, say


def register(app: typer.Typer) -> None:
    app.command("ventilation")(ventilation)


def ventilation(
    booth: Annotated[str, typer.Argument(help="The booth.")],
    from_: Annotated[str, typer.Option("--from", help="The beginning: a day of the site, 2026-07-13, or RFC 3339.")],
    to: Annotated[str | None, typer.Option("--to", help="The end, that day included; now, if left out.")] = None,
    format_: Annotated[Format | None, typer.Option("--format", help="A document instead of the summary.")] = None,
    out: Annotated[Path | None, typer.Option(help="Where to write it; ventilation-BOOTH-DAY.FORMAT if left out.")] = None,
    paper: Annotated[Paper, typer.Option(help="Paper size of the PDF.")] = Paper.a4,
    at: Annotated[str | None, typer.Option("--at", help="The log as of this moment (RFC 3339); now, if left out.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """When a booth was in use, what its air did then, and what nobody knows of it."""
    from booth.cli.days import beginning, ending
    from booth.reports.ventilation import build_ventilation
    from booth.reports.ventilation_document import ventilation_document
    from booth.store import Store

    shop = read_shop(config)
    with Store.open(store) as opened:
        as_of = moment(at, opened)
        start = beginning(from_, shop.site.zone)
        end = as_of if to is None else ending(to, shop.site.zone)
        log = build_ventilation(shop, opened, booth, start, end, as_of)
        if json_ or (format_ is Format.json and out is None):
            emit(log)
        elif format_ is None:
            _print(log, shop.site.time_zone)
        else:
            path = out or Path(f"ventilation-{booth}-{log['periods'][0]['day']}.{format_.value}")
            size = "us-letter" if paper is Paper.letter else "a4"
            path.write_bytes(ventilation_document(shop, opened, log, format_.value, size))
            typer.echo(str(path))


def _print(log: dict, zone: str) -> None:
    from booth.reports.ventilation_words import day_and_shift, figure, length
    from booth.reports.words import SiteClock

    clock = SiteClock.at_site(zone, log["from"])
    typer.echo(f"{log['name']}, {clock.full(log['from'])} to {clock.full(log['to'])} ({zone})")
    for sentence in log["summary"]:
        say(sentence, 2)
    typer.echo()
    for row in log["periods"]:
        if row["modes_s"].get("spray"):
            velocity = row["velocity"]
            told = "not known" if velocity is None or velocity["beyond_s"] is None else length(velocity["beyond_s"])
            below = f", below the minimum {told}" if velocity and velocity["minimum"] is not None else ""
            mean = figure(velocity, "velocity")
            say(f"{day_and_shift(row)}: sprayed {length(row['modes_s']['spray'])}, mean {mean}{below}", 2)
    for one in log["due"]:
        if one["over"]:
            say(f"! {one['sentence']}", 2)
    cautions(log["cautions"])
