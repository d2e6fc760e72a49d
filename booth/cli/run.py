"""`booth run`: the logger."""

from __future__ import annotations

from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, StoreOption, UsageError, read_shop


def register(app: typer.Typer) -> None:
    app.command("run")(run)


def run(
    broker: Annotated[str | None, typer.Option(help="HOST:PORT of the MQTT broker, instead of the configured one.")] = None,
    clock: Annotated[
        str, typer.Option(help="system, or tick: the time of a plant that publishes on shop/clock/tick.")
    ] = "system",
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
) -> None:
    """Log until stopped: receive, keep, judge, announce. Stop it with Ctrl-C or SIGTERM."""
    import logging
    import signal

    from booth.clocks import SystemClock, TickClock
    from booth.notify.console import ConsoleAlarms
    from booth.notify.log import LogAlarms
    from booth.service import serve

    if clock not in ("system", "tick"):
        raise UsageError(f"--clock {clock!r} is not a clock; write system or tick")
    shop = read_shop(config)
    host, port = _address(broker)
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    logging.getLogger("booth.alarms").setLevel(logging.CRITICAL)  # the console says the same, and better
    notifiers = [ConsoleAlarms(shop.site.zone), LogAlarms()]
    with serve(shop, store, SystemClock() if clock == "system" else TickClock(), notifiers, host, port) as logger:
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: logger.stopping.set())
        typer.echo(f"logging {shop.site.name} into {store}; stop with Ctrl-C")
        for caution in shop.cautions:
            typer.echo(f"! {caution}")
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
