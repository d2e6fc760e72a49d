"""`booth demo`: one simulated shift, from sensor to documents."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import UsageError, emit


def register(app: typer.Typer) -> None:
    app.command("demo")(demo)


def demo(
    out: Annotated[Path, typer.Option(help="A folder for the configuration, the store, the documents and the hidden truth.")],
    seed: Annotated[int, typer.Option(help="Another seed is another day's noise.")] = 1,
    plain: Annotated[bool, typer.Option("--plain", help="Lines instead of the live view.")] = False,
    broker: Annotated[
        bool, typer.Option(help="Over a real broker; --no-broker decodes the same messages in this process.")
    ] = True,
    json_: Annotated[bool, typer.Option("--json", help="Print the verdicts as JSON at the end.")] = False,
) -> None:
    """One simulated shift of an invented shop: streamed, logged, judged, alarmed, and turned into paint records."""
    import sys

    from booth.demo.shift import run_shift
    from booth.demo.summary import print_summary

    if (out / "store").exists():
        raise UsageError(f"{out} holds a demo already; name another --out, or remove it first: a journal is never overwritten")
    shift = run_shift(out, seed, over_broker=broker, live=sys.stdout.isatty() and not plain and not json_, quiet=json_)
    if json_:
        emit({vehicle: record["verdict"] for vehicle, record in shift.records.items()})
    else:
        print_summary(shift, out)
