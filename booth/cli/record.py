"""`booth record`: one van's paint record as JSON, HTML, PDF or CSV."""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, emit, moment, read_shop


class Format(str, Enum):  # noqa: UP042 -- typer reads the values
    pdf = "pdf"
    html = "html"
    json = "json"
    csv = "csv"


class Paper(str, Enum):  # noqa: UP042
    a4 = "a4"
    letter = "letter"


def register(app: typer.Typer) -> None:
    app.command("record")(record)


def record(
    vehicle: Annotated[str, typer.Argument(help="The van's number.")],
    format_: Annotated[Format | None, typer.Option("--format", help="A document instead of the summary.")] = None,
    out: Annotated[Path | None, typer.Option(help="Where to write it; VEHICLE.FORMAT if left out.")] = None,
    paper: Annotated[Paper, typer.Option(help="Paper size of the PDF.")] = Paper.a4,
    at: Annotated[str | None, typer.Option("--at", help="Judge as of this moment (RFC 3339); now, if left out.")] = None,
    known_by: Annotated[str | None, typer.Option(help="Use only readings that had arrived by this moment.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """One van's paint record. Exit code 1 when its verdict is missed or unproven."""
    from booth.documents import document, file_name
    from booth.reports.record import build_record, judge_vehicle
    from booth.store import Store

    shop = read_shop(config)
    with Store.open(store) as opened:
        judged = judge_vehicle(shop, opened, vehicle, moment(at), None if known_by is None else moment(known_by))
        made = build_record(judged)
        if json_ or format_ is Format.json and out is None:
            emit(made)
        elif format_ is None:
            _print(made)
        else:
            path = out or Path(f"{file_name(vehicle)}.{format_.value}")
            path.write_bytes(document(judged, made, format_.value, "us-letter" if paper is Paper.letter else "a4"))
            typer.echo(str(path))
    if made["verdict"] != "met":
        raise SystemExit(1)


def _print(made: dict) -> None:
    typer.echo(f"{made['vehicle']}  {made['process']['name']}  {made['verdict'].upper()} ({made['job']['outcome']})")
    for sentence in made["summary"]:
        typer.echo(f"  {sentence}")
    for round_ in made["rounds"]:
        typer.echo(f"\nRound {round_['round']}: {round_['verdict']}")
        for step in round_["steps"]:
            counts = {word: sum(one["verdict"] == word for one in step["findings"]) for word in ("met", "missed", "unproven")}
            said = ", ".join(f"{number} {word}" for word, number in counts.items() if number) or "nothing judged"
            how = f" ({step['source']})" if step["source"] in ("inferred", "signalled") else ""
            typer.echo(f"  {step['step']:<14}{how:<12} {said}")
    typer.echo(f"\nJournal: {made['journal']['entries']} entries, {'whole' if made['journal']['verified'] else 'BROKEN'}")
    for caution in made["cautions"]:
        typer.echo(f"! {caution}")
