"""The end of the demonstration: each van's verdict, the reason for each miss, and where the documents lie."""

from __future__ import annotations

from pathlib import Path

import typer

from booth.cli.text import cautions, say
from booth.demo.shift import Shift


def print_summary(shift: Shift, out: Path) -> None:
    """One block a van."""
    for vehicle, record in shift.records.items():
        typer.secho(
            f"\n{vehicle}  {record['verdict'].upper()}  {record['process']['name']}, {record['job']['outcome']}", bold=True
        )
        for sentence in record["summary"]:
            say(sentence, 4)
    typer.echo()
    say(f"{shift.shop.site.name} is invented, and so is every value above.")
    for what, where in (
        ("Documents", f"{shift.documents}/ (pdf, html, json for each van)"),
        ("Store", out / "store"),
        ("Configuration", out / "config"),
        ("Hidden truth", out / "truth.json"),
    ):
        typer.echo(f"  {what + ':':<15}{where}")
    typer.echo(f"Took {shift.seconds:.0f} s, at most {shift.peak_memory_mb:.0f} MB.")
    cautions(shift.shop.cautions)
