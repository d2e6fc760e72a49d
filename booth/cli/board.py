"""`booth board`: the board alone, for a store that a logger writes into, or wrote once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, StoreOption, UsageError, read_shop

if TYPE_CHECKING:
    from booth.shop.board import Board as Settings
    from booth.shop.shop import Shop

HostOption = Annotated[str | None, typer.Option(help="Where to listen, instead of [board] host.")]
PortOption = Annotated[int | None, typer.Option(min=1, max=65535, help="The port, instead of [board] port.")]


def register(app: typer.Typer) -> None:
    app.command("board")(board)


def board(
    host: HostOption = None,
    port: PortOption = None,
    clock: Annotated[
        str, typer.Option(help="system, or tick: as late as the newest reading, for a plant with its own time.")
    ] = "system",
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
) -> None:
    """Serve the pages until stopped. `booth run` does the same beside the logger."""
    import logging
    import signal
    import threading

    from booth.store import Store
    from booth.web.process import Start, serve_until
    from booth.web.serving import listening

    if clock not in ("system", "tick"):
        raise UsageError(f"--clock {clock!r} is not a clock; write system or tick")
    shop = read_shop(config)
    settings = settings_of(shop, host, port)
    Store.open(store).close()  # a mistyped folder is an error here, not an empty board
    try:
        bound = listening(settings.host, settings.port)
    except OSError as error:
        reason = str(error.strerror).partition(" (")[0]
        raise UsageError(f"the board can't listen on {settings.host} port {settings.port} ({reason}); name another") from None
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    logging.getLogger("uvicorn").setLevel(logging.WARNING)
    announce(store, settings)
    typer.echo("stop with Ctrl-C")
    stopping = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stopping.set())
    serve_until(Start(dict(shop.files), store, settings, clock == "tick"), stopping.is_set, bound)
    typer.echo("stopped")


def settings_of(shop: Shop, host: str | None, port: int | None) -> Settings:
    """The site's settings with what the command line says instead. Raises ConfigError where the board may not listen so."""
    from booth.web.serving import check

    changes = {name: value for name, value in (("host", host), ("port", port)) if value is not None}
    settings = shop.site.board.model_copy(update=changes)
    check(settings)
    return settings


def announce(store: Path, settings: Settings, err: bool = False) -> None:
    """Say where the board is; where nobody has an account yet, how to make the first one."""
    from booth.web.people.accounts import Accounts
    from booth.web.serving import address, first_link

    typer.echo(f"the board: {address(settings)}", err=err)
    link = first_link(Accounts(store), settings)
    if link is not None:
        typer.echo(f"make the first account, once and within a day: {link}", err=err)
