"""`booth status`: booths, loads, open jobs, windows, alarms, instruments, quarantine."""

from __future__ import annotations

from typing import Annotated

import typer

from booth.cli.app import CONFIG, STORE, ConfigOption, JsonOption, StoreOption, emit, moment, read_shop


def register(app: typer.Typer) -> None:
    app.command("status")(status)


def status(
    at: Annotated[str | None, typer.Option("--at", help="As of this moment (RFC 3339); now, if left out.")] = None,
    config: ConfigOption = CONFIG,
    store: StoreOption = STORE,
    json_: JsonOption = False,
) -> None:
    """What the booths, vans, alarms and instruments are doing, and what was set aside as unusable."""
    from booth.overview import build_status
    from booth.store import Store

    shop = read_shop(config)
    with Store.open(store) as opened:
        found = build_status(shop, opened, moment(at))
    emit(found) if json_ else _print(found, shop)


def _print(found: dict, shop) -> None:
    from booth.times import clock, parse_time

    def local(text: str | None) -> str:
        return "–" if text is None else clock(parse_time(text), shop.site.zone)

    typer.echo(f"{found['site']}, {clock(parse_time(found['at']), shop.site.zone, seconds=True)} {shop.site.time_zone}")
    for booth in found["booths"].values():
        typer.echo(f"\n{booth['name']} ({booth['kind']}): {', '.join(booth['vans']) or 'empty'}")
        for name, value in booth["points"].items():
            old = (
                ""
                if value["usable"]
                else f"   not usable: {'last heard ' + local(value['time']) if value['time'] else 'never heard'}"
            )
            typer.echo(f"  {name:<18} {value['text']:>12}{old}")
    for job in found["open_jobs"]:
        typer.echo(
            f"\n{job['vehicle']} open, round {job['round']}, {job['step'] or 'between steps'}; so far {job['verdict_so_far']}"
        )
        for sentence in job["missed"]:
            typer.echo(f"  missed: {sentence}")
        for window in job["windows"]:
            typer.echo(
                f"  {window['requirement']:<32} not before {local(window['earliest'])}, not after {local(window['latest'])}"
            )
    typer.echo(f"\nAlarms: {len(found['alarms']) or 'none standing'}")
    for alarm in found["alarms"]:
        typer.echo(
            f"  {local(alarm['raised'])} {alarm['priority'].upper()} {alarm['vehicle'] or alarm['booth']} ({alarm['state']})"
        )
        typer.echo(f"    {alarm['sentence']}")
    for row in found["instruments"]:
        typer.echo(f"  {row['point']} ({row['instrument']}): {'; '.join(row['says'])}")
    counts = found["quarantine"]["counts"]
    typer.echo(
        f"\nSet aside as unusable: {sum(counts.values())}"
        + "".join(f"\n  {reason}: {number}" for reason, number in counts.items())
    )
    for one in found["quarantine"]["recent"]:
        typer.echo(f"    {one['sentence']}")
    typer.echo(f"Journal: {found['journal']['entries']} entries, head {found['journal']['head']}")
