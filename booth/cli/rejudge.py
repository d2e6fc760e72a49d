"""`booth rejudge`: would last month's vans have passed under this process file?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, UsageError, emit, moment, read_shop
from booth.cli.text import say


def register(app: typer.Typer) -> None:
    app.command("rejudge")(rejudge)


def rejudge(
    process: Annotated[Path, typer.Option(help="A process file, with other limits or steps than the vans were painted under.")],
    from_: Annotated[str, typer.Option("--from", help="Vans whose job was opened from this moment on (RFC 3339) …")],
    to: Annotated[str, typer.Option("--to", help="… and before this one.")],
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """What would have passed under another process file, with the coatings as they are now. It changes nothing."""
    from booth.rejudging import rejudge as judge_again
    from booth.store import Store
    from booth.times import parse_time

    start, end = parse_time(from_), parse_time(to)
    if start >= end:
        raise UsageError(f"--from {from_} is not before --to {to}; write the earlier moment as --from")
    shop = read_shop(config)
    with Store.open(store) as opened:
        found = judge_again(shop, opened, process, start, end, moment(None, opened))
    if json_:
        emit({"process": str(process), "vehicles": [_as_json(one) for one in found]})
        return
    for one in found:
        typer.echo(f"{one.vehicle}  {one.before.value} → {one.after.value}")
        for change in one.changes:
            say(f"{change.requirement}: {_word(change.before)} → {_word(change.after)}. {change.sentence}", 4)
    differ = sum(one.before is not one.after for one in found)
    typer.echo(
        f"{len(found)} van{'s' if len(found) != 1 else ''} judged again, {differ} with another verdict; nothing was changed"
    )


def _word(verdict) -> str:
    return "not asked" if verdict is None else verdict.value


def _as_json(one) -> dict:
    return {
        "vehicle": one.vehicle,
        "verdict": one.before.value,
        "verdict_under_process": one.after.value,
        "changes": [
            {
                "requirement": change.requirement,
                "verdict": None if change.before is None else change.before.value,
                "verdict_under_process": None if change.after is None else change.after.value,
                "sentence": change.sentence,
            }
            for change in one.changes
        ],
    }
