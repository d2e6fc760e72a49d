"""`booth record`: one van's paint record as JSON, HTML, PDF or CSV."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, emit, moment, read_shop
from booth.cli.text import cautions, say, when


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
    from booth.reports.judged import judge_vehicle
    from booth.reports.record import build_record
    from booth.store import Store

    shop = read_shop(config)
    with Store.open(store) as opened:
        judged = judge_vehicle(shop, opened, vehicle, moment(at, opened), None if known_by is None else moment(known_by))
        made = build_record(judged)
        if json_ or format_ is Format.json and out is None:
            emit(made)
        elif format_ is None:
            _print(made, shop.site.zone)
        else:
            path = out or Path(f"{file_name(vehicle)}.{format_.value}")
            path.write_bytes(document(judged, made, format_.value, "us-letter" if paper is Paper.letter else "a4"))
            typer.echo(str(path))
    if made["verdict"] != "met":
        raise SystemExit(1)


def _print(made: dict, zone) -> None:
    from booth.times import parse_time

    issued = parse_time(made["issued"])

    def local(text: str | None) -> str:
        return when(text, zone, issued)

    typer.echo(f"{made['vehicle']}  {made['process']['name']}")
    opened, closed = local(made["job"]["opened"]), made["job"]["closed"]
    outcome = made["job"]["outcome"]
    say(f"{made['verdict'].upper()}, {outcome}; opened {opened}{f', closed {local(closed)}' if closed else ''} ({zone})")
    for sentence in made["summary"]:
        say(sentence, 2)
    for round_ in made["rounds"]:
        reason = f", {round_['reason']}" if round_["reason"] else ""
        typer.echo(f"\nRound {round_['round']}: {round_['verdict']}{reason}")
        if round_["findings"]:
            typer.echo(f"  {'gates, steps done':<33} {_counted(round_['findings'])}")
        for step in round_["steps"]:
            typer.echo(_step_line(step, local))
    journal = made["journal"]
    typer.echo(f"\nJournal: {journal['entries']} entries, {'whole' if journal['verified'] else 'BROKEN: see booth verify'}")
    cautions(made["cautions"])


def _step_line(step: dict, local: Callable[[str | None], str]) -> str:
    span = "" if step["start"] is None else f"{local(step['start'])[-5:]}–{local(step['end'])[-5:].strip('–')}"
    how = step["source"] if step["source"] in ("inferred", "signalled") else ""
    return f"  {step['step']:<12} {span:<11} {how:<9} {_counted(step['findings'])}"


def _counted(findings: list[dict]) -> str:
    counts = {word: sum(one["verdict"] == word for one in findings) for word in ("met", "missed", "unproven")}
    return ", ".join(f"{number} {word}" for word, number in counts.items() if number) or "nothing judged"
