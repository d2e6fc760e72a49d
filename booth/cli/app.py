"""All commands in one place, and what they share: where config and store are, how errors and results come out.

Exit codes: 0 done; 1 something is missed, unproven or broken, where the command's purpose is to judge or verify; 2 usage or
configuration.
"""

from __future__ import annotations

import json
import sys
from importlib import import_module
from pathlib import Path
from typing import Annotated, Any

import typer

ConfigOption = Annotated[Path, typer.Option("--config", envvar="BOOTH_CONFIG", help="The folder with the shop's configuration.")]
StoreOption = Annotated[Path, typer.Option("--store", envvar="BOOTH_STORE", help="The folder with the journal and the readings.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]

CONFIG, STORE = Path("config"), Path("store")

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Records what air and what clock each coat of a van saw, and judges it: met, missed or unproven.",
)


def main() -> None:
    """Run the command line; a user's error is one sentence and exit code 2, never a traceback."""
    _register()
    try:
        app(prog_name="booth")
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output has left: `booth status | head`
        raise SystemExit(0) from None
    except Exception as error:
        typer.echo(f"booth: {_said(error)}", err=True)
        raise SystemExit(2) from None


def _said(error: Exception) -> str:
    """What to tell the user; an error that isn't theirs is raised again."""
    if isinstance(error, OSError) and error.filename is not None:
        return f"{error.filename}: {error.strerror}; name another, or change who may read and write it"
    if type(error).__name__ not in USER_ERRORS:
        raise error
    return str(error)


USER_ERRORS = (
    "ConfigError",
    "StoreError",
    "EventError",
    "UnitError",
    "TimeError",
    "NoSuchVehicle",
    "NoSuchLog",
    "SumError",
    "ReplayError",
    "UsageError",
    "NoAnswer",
    "DocumentError",
    "LabelError",
)
"""By name, so that none of their modules is imported before it is needed."""


class UsageError(ValueError):
    """What was asked for on the command line can't be done; the text says what to write."""


def emit(result: Any) -> None:
    """A result as JSON."""
    typer.echo(json.dumps(result, ensure_ascii=False, indent=2, allow_nan=False))


def read_shop(config: Path):
    """The shop of a folder. Raises ConfigError with everything that is wrong."""
    from booth.shop.shop import load_shop, read_files

    return load_shop(read_files(config))


def moment(text: str | None, store=None) -> int:
    """A moment given on the command line (RFC 3339), or now.

    Now is never before the newest thing in the store's journal: a simulated shift may be dated later than this machine's clock.
    """
    from booth.clocks import SystemClock
    from booth.overview import newest_moment
    from booth.times import parse_time

    if text is not None:
        return parse_time(text)
    return max(SystemClock().now(), newest_moment(store) if store is not None else 0)


COMMANDS = (
    *("demo", "init", "check", "run", "board", "account", "replay", "event", "redact"),
    *("status", "record", "label", "ventilation", "materials", "exposure", "airflow"),
    *("trace", "rejudge", "rehearse", "verify", "store", "air"),
)
"""Each a module of this package, in the order in which `booth --help` shows them."""


def _register() -> None:
    if app.registered_commands:
        return  # called before in this process
    for name in COMMANDS:
        import_module(f"booth.cli.{name}").register(app)
