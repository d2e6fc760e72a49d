"""The command line. Only typer is imported here; each command imports what it needs when it runs, so that `--help` is quick."""

from booth.cli.app import main

__all__ = ["main"]
