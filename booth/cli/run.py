"""`booth run`: the logger, and the board beside it."""

from __future__ import annotations

from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, StoreOption, UsageError, read_shop
from booth.cli.board import announce, settings_of


def register(app: typer.Typer) -> None:
    app.command("run")(run)


def run(
    broker: Annotated[str | None, typer.Option(help="HOST:PORT of the MQTT broker, instead of the configured one.")] = None,
    clock: Annotated[
        str, typer.Option(help="system, or tick: the time of a plant that publishes on shop/clock/tick.")
    ] = "system",
    board: Annotated[bool, typer.Option("--board/--no-board", help="Serve the pages too, in a process of its own.")] = True,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
) -> None:
    """Log until stopped: receive, keep, judge, announce, and serve the board. Stop it with Ctrl-C or SIGTERM."""
    import logging
    import signal
    import threading
    from contextlib import ExitStack

    from booth.clocks import SystemClock, TickClock
    from booth.notify.console import ConsoleAlarms
    from booth.notify.log import LogAlarms
    from booth.service import serve

    if clock not in ("system", "tick"):
        raise UsageError(f"--clock {clock!r} is not a clock; write system or tick")
    shop = read_shop(config)
    settings = settings_of(shop, None, None) if board else None
    host, port = _address(broker)
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    logging.getLogger("booth.alarms").setLevel(logging.CRITICAL)  # the console says the same, and better
    notifiers = [ConsoleAlarms(shop.site.zone), LogAlarms()]
    stopping = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stopping.set())  # before anything runs, so that it can be stopped while it starts
    with ExitStack() as running:
        logger = running.enter_context(
            serve(shop, store, SystemClock() if clock == "system" else TickClock(), notifiers, host, port)
        )
        logger.stopping = stopping
        typer.echo(f"logging {shop.site.name} into {store}; stop with Ctrl-C")
        for caution in shop.cautions:
            typer.echo(f"! {caution}")
        if settings is not None:
            from booth.web.process import boarding

            announce(store, settings)
            running.enter_context(boarding(shop, store, settings, clock == "tick"))
        logger.run_until_stopped()
    typer.echo(
        f"stopped; {logger.counts.readings} readings, {logger.counts.events} events, {logger.counts.quarantined} set aside"
    )


def _address(text: str | None) -> tuple[str | None, int | None]:
    if text is None:
        return None, None
    host, colon, port = text.rpartition(":")
    if not colon or not port.isdigit() or not host:
        raise UsageError(f"--broker {text!r} is not HOST:PORT; write for example 127.0.0.1:1883")
    return host, int(port)
