"""`booth replay`: readings from another logger's CSV file, events from JSON lines, into the store."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, UsageError, emit, read_shop

ROWS_AT_ONCE = 2000


def register(app: typer.Typer) -> None:
    app.command("replay")(replay)


def replay(
    readings: Annotated[list[Path] | None, typer.Argument(help="CSV files with readings.")] = None,
    map_: Annotated[
        str | None, typer.Option("--map", help="How to read them: the name of a file in the configuration's replay/.")
    ] = None,
    events: Annotated[list[Path] | None, typer.Option(help="JSON-lines files with events, each naming its booth.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """Read readings and events from files; what can't be used is set aside with its file, line and reason."""
    from booth.clocks import SystemClock
    from booth.diagnosing import diagnose_past
    from booth.intake import remember_config
    from booth.readers.replay import read_events, read_table
    from booth.store import Store
    from booth.telling import tell_past
    from booth.wiring import point_map, replay_map

    if not readings and not events:
        raise UsageError("say what to read; write readings.csv --map wide, --events events.jsonl, or both")
    shop = read_shop(config)
    if readings and map_ not in shop.replay:
        raise UsageError(f"--map {map_!r} is not one of the configuration's replay files; write one of {', '.join(shop.replay)}")
    now = SystemClock().now()
    points = point_map(shop)
    with Store.open(store, writer=True) as opened:
        remember_config(opened, shop, now)
        sources = [read_events(path, points, now) for path in events or []]
        sources += [read_table(path, replay_map(shop.replay[map_]), points, now) for path in readings or []]
        counts, span = _take_all(opened, sources, now)
        if span:
            diagnose_past(shop, opened, *span, now)
            tell_past(shop, opened, span[1], now)
    if json_:
        emit(counts)
    else:
        typer.echo(", ".join(f"{number} {what.replace('_', ' ')}" for what, number in counts.items()))


def _take_all(opened, sources: list, now: int) -> tuple[dict[str, int], list[int]]:
    """What became of everything, and the times of the first and the last reading."""
    from itertools import chain, islice

    from booth.intake import take

    counts = {"readings": 0, "duplicates": 0, "conflicts": 0, "events": 0, "repeated_events": 0, "quarantined": 0}
    outcomes = chain.from_iterable(sources)
    span: list[int] = []
    while batch := list(islice(outcomes, ROWS_AT_ONCE)):
        taken = take(opened, batch, now, "replay")
        counts["readings"] += taken.stored.stored
        counts["duplicates"] += taken.stored.duplicates
        counts["conflicts"] += taken.stored.conflicts
        counts["events"] += len(taken.entries)
        counts["repeated_events"] += taken.repeated_events
        counts["quarantined"] += taken.quarantined
        times = [*span, *(one.time for one in taken.readings)]
        span = [min(times), max(times)] if times else []
    return counts, span
