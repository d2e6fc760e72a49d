"""`booth rehearse`: a shop's own tests for its limits."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, ConfigOption, JsonOption, UsageError, emit, read_shop
from booth.cli.text import say


def register(app: typer.Typer) -> None:
    app.command("rehearse")(rehearse)


def rehearse(
    files: Annotated[
        list[Path] | None, typer.Argument(help="Rehearsals; all of the configuration's where none is named.")
    ] = None,
    config: ConfigOption = CONFIG,
    json_: JsonOption = False,
) -> None:
    """Play made-up air and events against the shop's limits; say what came out otherwise than expected."""
    from booth.rehearsal.compare import differences
    from booth.rehearsal.play import play
    from booth.rehearsal.script import read_scripts
    from booth.shop.problems import ConfigError
    from booth.shop.shop import REHEARSALS

    shop = read_shop(config)
    paths = files or sorted((config / REHEARSALS).glob("*.toml"))
    if not paths:
        raise UsageError(f"there is no rehearsal in {config / 'rehearsals'}; write one, or name files")
    scripts, problems = [], []
    for path in paths:
        try:
            scripts += read_scripts(path, shop)
        except ConfigError as error:
            problems += error.problems
    if problems:
        raise ConfigError(problems)
    results = []
    for script in scripts:
        found = differences(play(script, shop))
        results.append(_result(script, found))
        if not json_:
            _tell(results[-1])
    wrong = [one for one in results if not one["kept"]]
    if json_:
        emit({"ok": not wrong, "cases": results})
    else:
        played = f"{len(results)} case{'s' if len(results) != 1 else ''}"
        typer.echo(f"{played}, {f'{len(wrong)} came out otherwise than expected' if wrong else 'all as expected'}")
    if wrong:
        raise SystemExit(1)


def _result(script, found: list) -> dict:
    from dataclasses import asdict

    return {"file": script.file, "case": script.case.name, "kept": not found, "differences": [asdict(one) for one in found]}


def _tell(result: dict) -> None:
    name = f"{result['file']}: {result['case']}"
    if result["kept"]:
        say(f"as expected  {name}", 0, 13)
        return
    say(f"OTHERWISE    {name}", 0, 13)
    for one in result["differences"]:
        say(one["about"], 4, 6)
        say(f"expected: {one['expected']}", 6, 16)
        say(f"got:      {one['got']}", 6, 16)
        for line in one["readings"]:
            say(line, 8, 10)
