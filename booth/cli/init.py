"""`booth init`: a starter configuration for a new shop."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import UsageError


def register(app: typer.Typer) -> None:
    app.command("init")(init)


def shipped_config() -> Path:
    """The configuration that comes with the software: beside the package in a checkout, inside it when installed."""
    import booth

    package = Path(booth.__file__).parent
    for folder in (package.parent / "config", package / "config"):
        if (folder / "site.toml").is_file():
            return folder
    raise UsageError("the shipped configuration is missing; install the software again, or copy config/ from its source")


def init(directory: Annotated[Path, typer.Argument(help="A new folder.")]) -> None:
    """Write a commented starter configuration into a new folder: an invented shop, to be changed line by line."""
    if directory.exists() and any(directory.iterdir()):
        raise UsageError(f"{directory} is not empty; name a new folder, so that nothing of yours is overwritten")
    shutil.copytree(shipped_config(), directory, dirs_exist_ok=True)
    typer.echo(f"{directory}: a starter configuration. Every value in it is invented: replace each by your own sheet's,")
    typer.echo(f"then run: booth check --config {directory}")
