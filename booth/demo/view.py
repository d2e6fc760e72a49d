"""What a terminal shows while the shift runs: booths, vans, countdowns, alarms, the shift's progress."""

from __future__ import annotations

import time
from typing import Any

from booth.judge.finding import Finding
from booth.logger import Logger
from booth.shop.shop import Shop
from booth.times import HOUR, clock, duration_text
from booth.units import show

REFRESH_S = 0.2
SHOWN = ("air_temperature", "relative_humidity", "air_velocity")
WAITING = {  # kind -> before its earliest, before its latest, past its latest, and what has been reached
    "flash_minimum": ("coat not before {}", "", "", "flash-off time reached"),
    "flash_maximum": ("", "coat within {}", "coat {} late", ""),
    "bake_start": ("bake not before {}", "bake within {}", "bake {} late", ""),
    "heat_up": ("", "part at heat within {}", "part at heat {} late", ""),
    "dwell": ("dwell {} more", "", "", "dwell reached"),
    "cool_minimum": ("cool-down {} more", "", "", "cool-down time reached"),
}


class PlainView:
    """A line an hour; alarms come from the console notifier."""

    def __init__(self, shop: Shop, quiet: bool = False) -> None:
        self._shop, self._quiet, self._hour = shop, quiet, None

    def __enter__(self) -> PlainView:
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing to take down."""

    def say(self, text: str) -> None:
        if not self._quiet:
            print(text, flush=True)

    def update(self, logger: Logger, now: int) -> None:
        hour = now // HOUR
        if hour != self._hour:
            self._hour = hour
            self.say(f"{clock(now, self._shop.site.zone)} {logger.counts.readings} readings, {logger.counts.events} events")


class LiveView:
    """A screen that is drawn anew a few times a second of the wall clock, however fast the shift goes."""

    def __init__(self, shop: Shop) -> None:
        from rich.live import Live

        self._shop, self._drawn = shop, 0.0
        self._live = Live(auto_refresh=False, transient=True)
        self._said = f"{shop.site.name}{', invented data' if shop.site.invented else ''}"

    def __enter__(self) -> LiveView:
        self._live.__enter__()
        return self

    def __exit__(self, *details: Any) -> None:
        self._live.__exit__(*details)

    def say(self, text: str) -> None:
        self._said = text
        self._live.console.print(text)

    def update(self, logger: Logger, now: int) -> None:
        if time.monotonic() - self._drawn >= REFRESH_S:
            self._drawn = time.monotonic()
            self._live.update(screen(self._shop, logger, now), refresh=True)


def screen(shop: Shop, logger: Logger, now: int):
    """The whole view as something that rich can print."""
    from rich.console import Group
    from rich.text import Text

    head = Text(f"{shop.site.name}   {clock(now, shop.site.zone, seconds=True)}", style="bold")
    if shop.site.invented:
        head.append("   invented data", style="dim")
    counts = logger.counts
    foot = Text(
        f"{counts.readings} readings, {counts.events} events, {counts.quarantined} set aside. A record-keeping aid: "
        "no interlock, no gas detector.",
        style="dim",
    )
    return Group(head, _booths(shop, logger, now), _alarms(shop, logger), foot)


def _booths(shop: Shop, logger: Logger, now: int):
    from rich.box import SIMPLE_HEAD
    from rich.table import Table

    table = Table(expand=True, pad_edge=False, box=SIMPLE_HEAD)
    for heading in ("booth", "air", "van", "step"):
        table.add_column(heading, no_wrap=True)
    table.add_column("next", ratio=1)
    for booth_id, booth in shop.booths.items():
        if booth.mode_point is not None:
            loaded = [van["vehicle"] for van in logger.watch.ledger.loaded(booth_id)]
            for index, vehicle in enumerate(loaded or [""]):
                room = (_name(booth_id, booth, logger), _air(booth_id, booth, logger)) if index == 0 else ("", "")
                table.add_row(*room, vehicle or "empty", _step(vehicle, logger), _next(vehicle, logger, shop, now))
    return table


def _name(booth_id: str, booth, logger: Logger) -> str:
    """The booth, and under it what it is doing."""
    mode = logger.watch.readings.latest(f"{booth_id}/{booth.mode_point}")
    words = booth.points[booth.mode_point].words or ()
    return f"{booth.name}\n{words[int(mode[1])] if mode else 'mode unknown'}"


def _air(booth_id: str, booth, logger: Logger) -> str:
    shown = []
    for measure in SHOWN:
        for name in booth.measuring(measure)[:1]:
            newest = logger.watch.readings.latest(f"{booth_id}/{name}")
            shown.append(show(newest[1], booth.points[name].kind) if newest else "–")
    return "  ".join(shown[:2]) + "\n" + "  ".join(shown[2:])


def _step(vehicle: str, logger: Logger) -> str:
    job = logger.watch.jobs.get(vehicle)
    if job is None:
        return ""
    running = [run for run in job.round.runs if run.end is None]
    return running[-1].step if running else "between"


def _next(vehicle: str, logger: Logger, shop: Shop, now: int) -> str:
    """The nearest window: how long until the next thing may and must be done."""
    windows = [seen.finding for (name, _), seen in logger.watch.seen.items() if name == vehicle]
    open_windows = [one for one in windows if not one.final and one.kind in WAITING and one.window is not None]
    return "\n".join(told for one in open_windows if (told := _countdown(one, now)))


def _countdown(finding: Finding, now: int) -> str:
    earliest, latest = finding.window.earliest, finding.window.latest
    before, within, late, reached = WAITING[finding.kind]
    if earliest is not None and earliest > now:
        return before.format(duration_text(earliest - now))
    if latest is None:  # with neither end the clock hasn't begun
        return reached if earliest is not None else ""
    return (within if latest > now else late).format(duration_text(abs(latest - now)))


def _alarms(shop: Shop, logger: Logger):
    from rich.table import Table

    table = Table(expand=True, pad_edge=False, show_header=False, box=None)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    standing = logger.watch.book.standing().values()
    for alarm in sorted(standing, key=lambda one: -one.raised)[:4]:
        condition = alarm.condition
        style = {"warning": "yellow", "alarm": "bold red", "hazard": "bold white on red"}[condition.priority]
        mark = "!" if alarm.state.value == "unacknowledged" else "·"
        label = (
            f"{mark} {clock(alarm.raised, shop.site.zone)} {condition.priority.upper()} {condition.vehicle or condition.booth}"
        )
        # The alarm keeps what was so when it was raised; what has become of it since is in the finding.
        seen = logger.watch.seen.get((condition.vehicle, condition.requirement))
        table.add_row(label, seen.finding.sentence if seen else condition.sentence, style=style)
    if not table.row_count:
        table.add_row("no alarm standing", "")
    return table
