"""`booth check`: read the configuration, say every mistake at once, show every limit in both unit systems."""

from __future__ import annotations

import typer

from booth.cli.app import CONFIG, ConfigOption, JsonOption, emit, read_shop
from booth.cli.text import say


def register(app: typer.Typer) -> None:
    app.command("check")(check)


def check(config: ConfigOption = CONFIG, json_: JsonOption = False) -> None:
    """Read the configuration; print every limit in both unit systems, or every mistake at once."""
    from dataclasses import asdict

    from booth.shop.problems import ConfigError
    from booth.shop.table import limit_rows

    try:
        shop = read_shop(config)
    except ConfigError as error:
        if json_:
            emit({"ok": False, "problems": [asdict(problem) for problem in error.problems]})
        else:
            for problem in error.problems:
                typer.echo(str(problem), err=True)
            count = len(error.problems)
            typer.echo(f"{count} mistake{'s' if count != 1 else ''} in {config}", err=True)
        raise SystemExit(2) from None
    rows = limit_rows(shop)
    if json_:
        watched = [{"point": point, "fault": fault, "within_s": us / 1e6} for point, fault, us in _watched(shop)]
        emit({"ok": True, "sha256": shop.sha256, "limits": [asdict(row) for row in rows], "health": watched})
        return
    _print(shop, rows)
    _print_watched(shop)


def _watched(shop) -> list[tuple[str, str, int]]:
    """(point, fault, how soon it is told) of everything that is looked for."""
    from booth.judge.health.terms import terms_of

    lateness = shop.site.judging.allowed_lateness
    return [
        (f"{booth}/{name}", fault, us + lateness)
        for booth, room in shop.booths.items()
        for name in room.points
        for fault, us in terms_of(shop, booth, name).told_within()
    ]


def _print_watched(shop) -> None:
    """Points that are watched for the same faults in the same time, together."""
    from booth.times import duration_text

    watched: dict[str, dict[str, int]] = {}
    for point, fault, us in _watched(shop):
        watched.setdefault(point, {})[fault] = us
    together: dict[str, list[str]] = {}
    for point, faults in watched.items():
        said = ", ".join(f"{fault.replace('_', ' ')} {duration_text(us)}" for fault, us in faults.items())
        together.setdefault(said, []).append(point)
    typer.echo("\nFaults of instruments, each told within")
    for said, points in together.items():
        say(said, 2, 4)
        say(f"– {', '.join(points)}", 6)


def _print(shop, rows: list) -> None:
    """A limit a line, under it its source; a source that several limits in a row share stands once, under the last."""
    from itertools import groupby

    say(
        f"{shop.site.name}{' (invented data)' if shop.site.invented else ''}: {len(shop.booths)} booths, "
        f"{len(shop.coatings)} coatings, {len(shop.processes)} processes; no mistakes"
    )
    for file, group in groupby(rows, key=lambda row: row.file):
        typer.echo(f"\n{file}")
        for source, limits in groupby(group, key=lambda row: row.source):
            for row in limits:
                us = f" ({row.us})" if row.us != row.metric else ""
                say(f"{row.key}: {row.metric}{us}", 2, 4)
            if source:
                say(f"– {source}", 6)
