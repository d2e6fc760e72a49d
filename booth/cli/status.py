"""`booth status`: booths, loads, open jobs, windows, alarms, instruments, quarantine."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, emit, moment, read_shop
from booth.cli.text import cautions, say, when
from booth.times import give_or_take

When = Callable[[str | None], str]


def register(app: typer.Typer) -> None:
    app.command("status")(status)


def status(
    at: Annotated[str | None, typer.Option(help="As of this moment (RFC 3339); now, if left out.")] = None,
    check: Annotated[
        bool, typer.Option("--check", help="For monitoring: exit code 1 when nothing is heard, or the mirror is far behind.")
    ] = False,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """What the booths, vans, alarms and instruments are doing, and what was set aside as unusable."""
    from booth.cli.status_check import complaints
    from booth.mirror import status as mirror_status
    from booth.overview import build_status
    from booth.store import Store

    shop = read_shop(config)
    with Store.open(store) as opened:
        as_of = moment(at, opened)
        found = build_status(shop, opened, as_of) | {"mirror": mirror_status(shop, store, as_of)}
    wrong = list(complaints(found)) if check else []
    if json_:
        emit(found | ({"wrong": wrong} if check else {}))
    elif check:
        typer.echo("\n".join(wrong) or "all is heard")
    else:
        _print(found, shop)
    if wrong:
        raise SystemExit(1)


def _print(found: dict, shop) -> None:
    from booth.times import clock, parse_time, to_datetime

    as_of, zone = parse_time(found["at"]), shop.site.zone
    typer.echo(f"{found['site']}, {to_datetime(as_of, zone):%Y-%m-%d} {clock(as_of, zone, seconds=True)} {shop.site.time_zone}")

    def local(text: str | None) -> str:
        return when(text, zone, as_of)

    for booth in found["booths"].values():
        _print_booth(booth, local)
    for job in found["open_jobs"]:
        _print_job(job, local)
    if not found["open_jobs"]:
        typer.echo("\nNo job is open")
    _print_alarms(found["alarms"], local)
    _print_instruments(found["instruments"], local)
    _print_quarantine(found["quarantine"])
    if found["mirror"]:
        behind = found["mirror"]
        typer.echo(f"\nMirror: {behind['readings_behind']} readings and {behind['entries_behind']} entries behind")
        if behind["problem"]:
            typer.echo(f"  {behind['problem']}")
    typer.echo(f"\nJournal: {found['journal']['entries']} entries, head\n  {found['journal']['head']}")
    cautions(shop.cautions[:1])


def _print_booth(booth: dict, local: When) -> None:
    """Two points a line; a booth that nothing is heard of has no values to show."""
    typer.echo()
    says = f"{booth['name']} ({booth['kind']}): {', '.join(booth['vans']) or 'empty'}"
    if not any(value["usable"] for value in booth["points"].values()):
        say(f"{says}; {'never heard' if booth['last_heard'] is None else 'last heard ' + local(booth['last_heard'])}")
        return
    say(says)
    cells = [f"{name:<18}{_value(value):>14}" for name, value in booth["points"].items()]
    for left, right in zip(cells[::2], [*cells[1::2], ""], strict=False):
        typer.echo(f"  {left:<36}{right}".rstrip())


def _value(value: dict) -> str:
    if value["usable"] or value["time"] is None:
        return value["text"]
    return "not usable"


def _print_job(job: dict, local: When) -> None:
    typer.echo()
    heard = "" if job["heard"] else f", last heard {local(job['last_heard'])}"
    where = f" in {job['booth']}" if job["booth"] else ""
    say(
        f"{job['vehicle']}{where}: open since {local(job['opened'])}{heard}; {job['process']}, round {job['round']}, "
        f"{job['step'] or 'between steps'}; so far {job['verdict_so_far']}"
    )
    for sentence in job["missed"]:
        say(f"missed: {sentence}", 2)
    for window in job["windows"] if job["heard"] else ():
        ends = [f"{word} {local(window[end])}" for end, word in ENDS.items() if window[end] is not None]
        sure = give_or_take(window["sooner_s"], window["later_s"])
        if ends:
            say(f"{window['requirement']}: {', '.join(ends)}{f' ({sure})' if sure else ''}", 2)


ENDS = {"earliest": "not before", "latest": "not after"}


def _print_alarms(alarms: list[dict], local: When) -> None:
    typer.echo(f"\nAlarms: {len(alarms) or 'none standing'}")
    for alarm in alarms:
        about = alarm["vehicle"] or alarm["booth"]
        say(f"{local(alarm['raised'])} {alarm['priority'].upper()} {about} ({alarm['state']}), {alarm['alarm']}", 2)
        say(alarm["sentence"], 4)
        if alarm["what_to_do"]:
            say(f"To do: {alarm['what_to_do']}", 4)


def _print_instruments(rows: list[dict], local: When) -> None:
    """Those of one booth that have the same to say, together; faults that are over with their times."""
    from booth.judge.health.faults import WORDS

    together: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        booth, _, point = row["point"].partition("/")
        says = [f"silent since {local(row['last_heard'])}" if one == "silent" else one for one in row["says"]]
        says += [f"{WORDS[one['fault']]} {_span(one, local)}" for one in row["faults"] if one["end"] is not None]
        together.setdefault((booth, "; ".join(says)), []).append(f"{point} ({row['instrument']})")
    typer.echo(f"\nInstruments: {f'{len(rows)} with something to say' if rows else 'all heard, all calibrated'}")
    for (booth, says), points in together.items():
        say(f"{booth}, {says}: {', '.join(points)}", 2)


def _span(fault: dict, local: When) -> str:
    return f"{local(fault['start']) if fault['start'] else 'ever'}–{local(fault['end'])}"


def _print_quarantine(quarantine: dict) -> None:
    counts = quarantine["counts"]
    typer.echo(f"\nSet aside as unusable: {sum(counts.values()) or 'nothing'}")
    for reason, number in counts.items():
        typer.echo(f"  {number:>6} {reason}")
    if quarantine["recent"]:
        typer.echo("  The latest:")
    for one in quarantine["recent"]:
        named = one["sentence"].startswith(one["origin"])
        say(one["sentence"] if named else f"{one['origin']}: {one['sentence']}", 4)
