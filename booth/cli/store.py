"""`booth store`: what is kept and in how many bytes; check, seal, back up, restore."""

from __future__ import annotations

from datetime import tzinfo
from pathlib import Path
from typing import Annotated, Any

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, UsageError, emit, moment, read_shop
from booth.cli.store_prune import print_pruned, pruned
from booth.cli.text import say

SHOWN = 12
GAPS_SHOWN = 3


def register(app: typer.Typer) -> None:
    app.command("store")(store)


def store(
    quick: Annotated[bool, typer.Option("--quick", help="Leave out the checksums, which take minutes for years.")] = False,
    check: Annotated[bool, typer.Option("--check", help="Check every checksum; exit code 1 when something is broken.")] = False,
    seal: Annotated[bool, typer.Option("--seal", help="Seal every hour that ended more than two days ago.")] = False,
    prune: Annotated[bool, typer.Option("--prune", help="What keep_readings would delete; with --yes, delete it.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="With --prune: delete it.")] = False,
    backup: Annotated[Path | None, typer.Option(help="Copy the store into this new folder and check the copy.")] = None,
    restore: Annotated[Path | None, typer.Option(help="Copy the backup in this folder to --store, which must be empty.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """How much is kept, in how many bytes, where readings are missing, and whether all is whole; or check, seal, prune, back up,
    restore."""
    if sum((check, seal, prune, backup is not None, restore is not None)) > 1:
        raise UsageError("--check, --seal, --prune, --backup and --restore are jobs of their own; name one at a time")
    if yes and not prune:
        raise UsageError("--yes says that --prune may delete; write --prune --yes")
    if backup is not None or restore is not None:
        result, tell = _copy(backup, restore, store), _print_copy
    elif check:
        result, tell = _check(store), _print_check
    elif seal:
        result, tell = _seal(store), _print_seal
    elif prune:
        result, tell = pruned(config, store, yes), print_pruned
    else:
        result, tell = _overview(config, store, quick), _print_overview
    emit(result) if json_ else tell(result)
    if result.get("ok") is False:
        raise SystemExit(1)


def _copy(backup: Path | None, restore: Path | None, store: Path) -> dict[str, Any]:
    from dataclasses import asdict

    from booth.store import backup as copies

    if backup is not None:
        return {"backup": str(backup), **asdict(copies.backup(store, backup))}
    return {"restored": str(store), **asdict(copies.restore(restore, store))}


def _print_copy(result: dict[str, Any]) -> None:
    where = f"Backed up to {result['backup']}" if "backup" in result else f"Restored to {result['restored']}"
    holds = f"{result['readings']} readings, {result['entries']} journal entries"
    say(f"{where}: {_size(result['bytes'])}, {holds}; the copy is whole")
    typer.echo(f"  head    {result['head']}\n  SHA-256 {result['sha256']}")


def _check(store: Path) -> dict[str, Any]:
    from booth.store import Store
    from booth.times import format_time

    with Store.open(store) as opened:
        journal, readings = opened.journal.verify(), opened.readings.verify()
    return {
        "ok": journal.ok and readings.ok,
        "entries": journal.entries,
        "head": journal.head,
        "sealed_hours": readings.hours,
        "sealed_readings": readings.readings,
        "lost": [{"point": one.point, "hour": format_time(one.hour), "count": one.count} for one in readings.lost],
        "problems": [*journal.problems, *readings.problems],
    }


def _print_problems(result: dict[str, Any]) -> None:
    """Every problem, and whether all is whole."""
    for problem in result["problems"][:SHOWN]:
        say(problem)
    if len(result["problems"]) > SHOWN:
        typer.echo(f"… and {len(result['problems']) - SHOWN} more; --json has them all")
    if not result["ok"]:
        say("What is whole is still served. Keep this file for evidence, and look for what is lost in the last backup.")
    typer.echo("whole" if result["ok"] else "broken")


def _print_check(result: dict[str, Any]) -> None:
    checked = f"{result['sealed_readings']} sealed readings in {result['sealed_hours']} chunks"
    say(f"{result['entries']} journal entries and {checked} are whole")
    _print_problems(result)


def _seal(store: Path) -> dict[str, Any]:
    from booth.store import KEEP_HOT_US, Store

    with Store.open(store) as opened:
        sealed = opened.readings.seal(moment(None, opened), KEEP_HOT_US)
    return {
        "hours": sealed.hours,
        "readings": sealed.readings,
        "bytes": sealed.bytes,
        "longest_lock_ms": round(sealed.longest_lock_s * 1000, 1),
    }


def _print_seal(result: dict[str, Any]) -> None:
    if not result["hours"]:
        typer.echo("Nothing to seal: no hour that ended more than two days ago is still unsealed")
        return
    say(
        f"Sealed {result['readings']} readings in {result['hours']} chunks at {result['bytes'] / result['readings']:.2f} bytes; "
        f"nobody had to wait for longer than {result['longest_lock_ms']:g} ms"
    )


def _overview(config: Path, store: Path, quick: bool) -> dict[str, Any]:
    from booth.store import Store

    shop = read_shop(config)
    checked = None if quick else _check(store)
    with Store.open(store) as opened:
        held = opened.readings.held()
        hot, sealed = sum(one.hot for one in held), sum(one.sealed for one in held)
        used = opened.used_bytes()
        return {
            "ok": None if checked is None else checked["ok"],
            "problems": [] if checked is None else checked["problems"],
            "time_zone": shop.site.time_zone,
            "bytes": used,
            "days": opened.readings.days(),
            "readings": {"hot": hot, "sealed": sealed},
            "bytes_per_sealed_reading": sum(one.sealed_bytes for one in held) / sealed if sealed else None,
            "journal_entries": opened.journal.head().entries,
            "points": [_point(shop, opened, one) for one in held],
            "lost": [] if checked is None else checked["lost"],
        }


def _point(shop, opened, held) -> dict[str, Any]:
    """One point; gaps are null where the configuration doesn't know it, and so not how often it should be heard."""
    from booth.times import format_time

    booth_id, _, point_id = held.point.partition("/")
    booth = shop.booths.get(booth_id)
    point = booth.points.get(point_id) if booth else None
    first, last = opened.readings.span(held.point)
    gaps = None if point is None else opened.readings.gaps(held.point, point.max_age)
    return {
        "point": held.point,
        "hot": held.hot,
        "sealed": held.sealed,
        "first": format_time(first),
        "last": format_time(last),
        "gaps": None if gaps is None else [{"start": format_time(one), "end": format_time(other)} for one, other in gaps],
    }


def _print_overview(result: dict[str, Any]) -> None:
    from zoneinfo import ZoneInfo

    zone = ZoneInfo(result["time_zone"])
    readings, each = result["readings"], result["bytes_per_sealed_reading"]
    packed = "" if each is None else f" at {each:.2f} bytes"
    say(
        f"{_size(result['bytes'])}: {result['journal_entries']} journal entries, and {sum(readings.values())} readings "
        f"of {_count(result['days'], 'day')} ({readings['hot']} hot, {readings['sealed']} sealed{packed})"
    )
    booths: dict[str, list[dict[str, Any]]] = {}
    for point in result["points"]:
        booths.setdefault(point["point"].partition("/")[0], []).append(point)
    for booth, points in booths.items():
        _print_booth(booth, points, zone)
    typer.echo()
    if result["ok"] is None:
        typer.echo("checksums not looked at (--quick)")
    else:
        _print_problems(result)


def _print_booth(booth: str, points: list[dict[str, Any]], zone: tzinfo) -> None:
    """One line for all points, and one for each that has gaps."""
    from booth.times import parse_time

    kept = sum(point["hot"] + point["sealed"] for point in points)
    first = min((point["first"] for point in points), key=parse_time)
    last = max((point["last"] for point in points), key=parse_time)
    typer.echo()
    say(f"{booth}: {_count(len(points), 'point')}, {kept} readings from {_minute(first, zone)} to {_minute(last, zone)}")
    gappy = [point for point in points if point["gaps"] != []]
    for point in gappy:
        say(f"{point['point']}: {_gaps(point['gaps'], zone)}", 2)
    if not gappy:
        typer.echo("  no gaps")


def _gaps(gaps: list[dict[str, str]] | None, zone: tzinfo) -> str:
    """How many, and the longest ones."""
    from booth.times import duration_text, parse_time

    def length(gap: dict[str, str]) -> int:
        return parse_time(gap["end"]) - parse_time(gap["start"])

    if gaps is None:
        return "not in the configuration, so nobody says how often it should be heard"
    longest = sorted(gaps, key=length, reverse=True)[:GAPS_SHOWN]
    told = ", ".join(f"{duration_text(length(gap))} from {_minute(gap['start'], zone)}" for gap in longest)
    return f"{_count(len(gaps), 'gap')}, the longest {told}"


def _minute(text: str, zone: tzinfo) -> str:
    from booth.times import clock, parse_time, to_datetime

    us = parse_time(text)
    return f"{to_datetime(us, zone):%Y-%m-%d} {clock(us, zone)}"


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _size(count: int) -> str:
    for unit, size in (("GB", 1e9), ("MB", 1e6)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return f"{count / 1e3:.0f} kB"
