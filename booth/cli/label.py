"""`booth label`: a van's number as a code that a scanner reads, several to a sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import UsageError
from booth.cli.record import Paper

SHEET = 12


def register(app: typer.Typer) -> None:
    app.command("label")(label)


def label(
    vehicle: Annotated[str, typer.Argument(help="The van's number.")],
    out: Annotated[Path | None, typer.Option(help="An .svg or .pdf file; VEHICLE.svg if left out.")] = None,
    copies: Annotated[int, typer.Option(min=1, max=120, help="Labels on the sheet.")] = SHEET,
    paper: Annotated[Paper, typer.Option(help="Paper size of the PDF.")] = Paper.a4,
) -> None:
    """A sheet of labels: the van's number as a QR code, and under it as text."""
    from booth.documents import file_name
    from booth.reports.labels import label_pdf, label_svg

    path = out or Path(f"{file_name(vehicle)}.svg")
    if path.suffix.lower() == ".pdf":
        path.write_bytes(label_pdf(vehicle, copies, "us-letter" if paper is Paper.letter else "a4"))
    elif path.suffix.lower() == ".svg":
        path.write_text(label_svg(vehicle, copies), encoding="utf-8")
    else:
        raise UsageError(f"{path}: a label is written as .svg or .pdf; name a file that ends so")
    typer.echo(f"{path}: {copies} labels")
