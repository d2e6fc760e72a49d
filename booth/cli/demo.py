"""`booth demo`: one simulated shift, from sensor to documents."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import UsageError, emit
from booth.cli.board import announce


def register(app: typer.Typer) -> None:
    app.command("demo")(demo)


def demo(
    out: Annotated[Path, typer.Option(help="A folder for the configuration, the store, the documents and the hidden truth.")],
    seed: Annotated[int, typer.Option(help="Another seed is another day's noise.")] = 1,
    plain: Annotated[bool, typer.Option("--plain", help="Lines instead of the live view.")] = False,
    broker: Annotated[
        bool, typer.Option(help="Over a real broker; --no-broker decodes the same messages in this process.")
    ] = True,
    board: Annotated[
        bool | None, typer.Option("--board/--no-board", help="Serve the pages beside the shift; so unless --json.")
    ] = None,
    stay: Annotated[bool, typer.Option("--stay", help="Keep the pages up after the shift, until Ctrl-C.")] = False,
    json_: Annotated[bool, typer.Option("--json", help="Print the verdicts as JSON at the end.")] = False,
) -> None:
    """One simulated shift of an invented shop: streamed, logged, judged, alarmed, and turned into paint records."""
    import sys
    from contextlib import ExitStack

    from booth.demo.shift import prepare, run_shift
    from booth.demo.summary import print_summary

    if (out / "store").exists():
        raise UsageError(f"{out} holds a demo already; name another --out, or remove it first: a journal is never overwritten")
    shop = prepare(out)
    with ExitStack() as running:
        if stay or (not json_ if board is None else board):
            from booth.demo.board import demo_board

            settings = running.enter_context(demo_board(shop, out))
            announce(out / "store", settings, err=json_)
        shift = run_shift(shop, out, seed, over_broker=broker, live=sys.stdout.isatty() and not plain and not json_, quiet=json_)
        if json_:
            emit({vehicle: record["verdict"] for vehicle, record in shift.records.items()})
        else:
            print_summary(shift, out)
        if stay:
            announce(out / "store", settings, err=json_)
            _until_stopped(json_)


def _until_stopped(err: bool) -> None:
    import signal
    import threading

    stopping = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stopping.set())
    typer.echo("the board stays up until Ctrl-C", err=err)
    stopping.wait()
