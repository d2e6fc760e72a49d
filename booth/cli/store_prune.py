"""`booth store --prune`: what the site's retention would delete, and with --yes does."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import Any

import typer

from booth.cli.app import UsageError, moment, read_shop
from booth.cli.text import say


def pruned(config: Path, store: Path, yes: bool) -> dict[str, Any]:
    """By point: how many readings may be deleted, or were, and between which times."""
    from booth import retention
    from booth.store import Store
    from booth.times import format_time

    shop = read_shop(config)
    if shop.site.store.keep_readings is None:
        raise UsageError('nothing is ever deleted here; else write keep_readings = "3650 day" into [store] of site.toml')
    with Store.open(store) as opened:
        now = moment(None, opened)
        limit = retention.before(shop, opened, now)
        if limit is None:
            raise UsageError("the clock leapt by a day or more within 7 days, so nothing is deleted; check the clock and wait")
        needed = retention.needed(shop, opened)
        if yes:
            stretches = retention.prune(shop, opened, now).stretches
        else:
            stretches = tuple(opened.readings.pruning.candidates(limit, needed))
    points = defaultdict(list)
    for stretch in stretches:
        points[stretch.point].append(stretch)
    return {
        "deleted": yes,
        "before": format_time(limit),
        "readings": sum(stretch.count for stretch in stretches),
        "open_since": None if needed.open_since is None else format_time(needed.open_since),
        "points": [
            {
                "point": name,
                "readings": sum(one.count for one in own),
                "hours": sum(len(one.hours) for one in own),
                "from": format_time(own[0].start),
                "to": format_time(own[-1].end),
            }
            for name, own in sorted(points.items())
        ],
    }


def print_pruned(result: dict[str, Any]) -> None:
    if not result["readings"]:
        say(f"Nothing to delete: of what is older than {result['before']} every reading is needed by a record")
    for one in result["points"]:
        say(f"{one['point']}: {one['readings']} readings of {one['hours']} hours between {one['from']} and {one['to']}")
    if result["open_since"] is not None and result["open_since"] < result["before"]:
        say(f"A job has been open since {result['open_since']}: its booths keep everything since then. Close what is done.")
    if result["deleted"] and result["readings"]:
        say(f"{result['readings']} readings were deleted; the journal says which. Their hourly summaries stay.")
    elif result["readings"]:
        typer.echo(f"{result['readings']} readings would be deleted; nothing was. Write --prune --yes to delete them.")
