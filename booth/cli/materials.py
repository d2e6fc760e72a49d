"""`booth materials`: what was sprayed and used, with VOC and HAP, by month and over twelve months."""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, UsageError, emit, moment, read_shop
from booth.cli.text import cautions, say


class Export(str, Enum):  # noqa: UP042 -- typer reads the values
    json = "json"
    csv = "csv"
    months_csv = "months-csv"


def register(app: typer.Typer) -> None:
    app.command("materials")(materials)


def materials(
    from_: Annotated[str, typer.Option("--from", help="The beginning: a day of the site, 2026-01-01, or RFC 3339.")],
    to: Annotated[str | None, typer.Option("--to", help="The end, that day included; now, if left out.")] = None,
    format_: Annotated[Export | None, typer.Option("--format", help="An export instead of the summary.")] = None,
    out: Annotated[Path | None, typer.Option(help="Where to write it; to the terminal if left out.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """Litres, VOC and HAP by product and booth. What isn't known is missing and never zero."""
    from booth.cli.days import beginning, ending
    from booth.reports.materials import build_materials
    from booth.store import Store

    shop = read_shop(config)
    with Store.open(store) as opened:
        as_of = moment(None, opened)
        start = beginning(from_, shop.site.zone)
        end = as_of if to is None else ending(to, shop.site.zone)
        if start >= end:
            raise UsageError("--from must be before --to; write the earlier of the two as --from")
        made = build_materials(shop, opened, start, end, as_of)
    if format_ is None and not json_:
        _print(made)
    elif out is None and (json_ or format_ is Export.json):
        emit(made)
    else:
        _export(made, format_ or Export.json, out)


def _export(made: dict, form: Export, out: Path | None) -> None:
    import json

    from booth.reports.materials_csv import materials_csv, months_csv

    if form is Export.json:
        text = json.dumps(made, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
    else:
        text = (materials_csv if form is Export.csv else months_csv)(made)
    if out is None:
        typer.echo(text, nl=False)
    else:
        out.write_bytes(text.encode())
        typer.echo(str(out))


def _print(made: dict) -> None:
    for row in made["products"]:
        where = f" in {row['booth']}" if row["booth"] else ""
        say(f"{row['month']}  {row['product']}{where}: {_amounts(row)}", 2)
    typer.echo()
    for row in made["months"]:
        say(f"{row['month']}  {_amounts(row)}; twelve months: {_amounts(row['twelve_months'])}", 2)
    lacking = sorted({one for row in made["products"] for one in row["missing"]})
    if lacking:
        say(f"! missing, and so not counted: {', '.join(lacking)}")
    cautions(made["cautions"])


def _amounts(row: dict) -> str:
    """What could be added up is the least that it was, where something is missing."""
    kinds = (("litres", "L"), ("voc_kg", "kg VOC"), ("hap_kg", "kg HAP"))
    return ", ".join(_amount(row[key], row.get("known", {}).get(key), unit) for key, unit in kinds)


def _amount(whole: float | None, known: float | None, unit: str) -> str:
    if whole is not None:
        return f"{whole:.2f} {unit}"
    return f"at least {known:.2f} {unit}" if known else f"{unit} not known"
