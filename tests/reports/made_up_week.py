"""A made-up week of one booth with every kind of hole, written by hand into a store: what must come out is plain arithmetic.

Each working day, local time: idle 08:00, spray 08:10 to 08:20, purge to 08:23, bake to 08:53, idle to 09:00; a reading of every
point each ten seconds, each of which holds for fifteen. The week ends with the turn of the clocks in North America, 2026-11-01.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from booth.shop.shop import Shop, load_shop, read_files
from booth.store import Draft, Reading, Store
from booth.times import SECOND, from_datetime

CONFIG = Path(__file__).parents[2] / "config"
ZONE = ZoneInfo("America/Chicago")
MONDAY = datetime(2026, 10, 26, tzinfo=ZONE)
MODES = ("idle", "spray", "flash", "purge", "bake", "cool", "fault")
TICK_S = 10
COURSE = ((8, 0, "idle"), (8, 10, "spray"), (8, 20, "purge"), (8, 23, "bake"), (8, 53, "idle"))
"""Hour, minute, mode."""

UNITS = {"air-velocity": "m/s", "exhaust-flow": "m^3/s", "booth-pressure": "Pa", "filter-drop": "Pa", "gun-1": "L/min"}


def shop(shifts: bool = False) -> Shop:
    """The demo shop, by days unless shifts are wanted."""
    files = dict(read_files(CONFIG))
    if not shifts:
        head, _, rest = files["site.toml"].partition("[[shifts]]")
        files["site.toml"] = head + rest[rest.index("[judging]") :]
    return load_shop(files)


def shop_with_interlock() -> Shop:
    """The same with a point that tells the fan's interlock."""
    files = dict(shop().files)
    north = files["booths/north.toml"].replace("[ventilation]\n", '[ventilation]\ninterlock_point = "fan-interlock"\n')
    keys = 'measure = "fan_interlock"\nrange = ["0", "1"]\nmax_age = "15 s"\ninstrument = { name = "FI-N", type = "contact" }'
    files["booths/north.toml"] = f"{north}\n[points.fan-interlock]\n{keys}\n"
    return load_shop(files)


def shop_with_both_flows() -> Shop:
    """The same with a point for the make-up air, and the file saying which flow is which."""
    files = dict(shop().files)
    named = '[ventilation]\nintake_flow = "make-up-flow"\nexhaust_flow = "exhaust-flow"\n'
    north = files["booths/north.toml"].replace("[ventilation]\n", named)
    keys = 'measure = "air_flow"\nunit = "m^3/s"\nrange = ["0 m^3/s", "40 m^3/s"]\nmax_age = "15 s"\n'
    instrument = 'instrument = { name = "MF-N", type = "pitot array", expanded_uncertainty = "1 m^3/s" }\n'
    files["booths/north.toml"] = f"{north}\n[points.make-up-flow]\n{keys}{instrument}"
    return load_shop(files)


def at(day: int, hour: int, minute: int, second: int = 0) -> int:
    """A moment of the week; day 0 is Monday."""
    return from_datetime((MONDAY + timedelta(days=day)).replace(hour=hour, minute=minute, second=second))


def fill(store: Store) -> None:
    """Five days of work, a Saturday of which nothing is known, a Sunday with the fan idling."""
    for day in (0, 1, 2, 3, 4):
        store.readings.append(list(_day(day)))
    store.readings.append([Reading("north/air-velocity", at(3, 8, 12), at(3, 8, 12), "0.9", "m/s", 0.9, 1)])  # contradicts
    store.readings.append([one for one in _readings(6, 8, 0, 9, 0, {"mode": 0.0, "air-velocity": 0.1})])


def _day(day: int):
    last = (9, 0, "")
    for (hour, minute, mode), (past_hour, past_minute, _) in zip(COURSE, [*COURSE[1:], last], strict=True):
        moving = mode in ("spray", "purge")
        values = {
            "mode": float(MODES.index(mode)),
            "air-velocity": 0.5 if moving else 0.2,
            "exhaust-flow": 19.0 if moving else 5.0,
            "booth-pressure": 4.0,
            "filter-drop": 100.0 + 5 * day if moving else 30.0,
            "gun-1": 200.0 if mode == "spray" else 0.0,
        }
        if day == 4 and mode == "purge":  # Friday's bake begins without one
            values["mode"] = 0.0
        yield from (one for one in _readings(day, hour, minute, past_hour, past_minute, values) if not _missing(day, one))


def _readings(day: int, hour: int, minute: int, past_hour: int, past_minute: int, values: dict[str, float]):
    begin, end = at(day, hour, minute), at(day, past_hour, past_minute)
    for time in range(begin, end, TICK_S * SECOND):
        for point, value in values.items():
            value = 0.3 if point == "air-velocity" and day == 0 and at(0, 8, 15) <= time < at(0, 8, 16) else value
            yield Reading(f"north/{point}", time, time + SECOND, f"{value}", UNITS.get(point, ""), value, 1)


def _missing(day: int, one: Reading) -> bool:
    """Tuesday the probe was silent while spraying, Wednesday the controller was, Friday nobody measured the filter."""
    return (
        (day == 1 and one.point.endswith("air-velocity") and at(1, 8, 12) <= one.time < at(1, 8, 14))
        or (day == 2 and one.point.endswith("mode") and at(2, 8, 15) <= one.time < at(2, 8, 17))
        or (day == 4 and one.point.endswith("filter-drop"))
    )


def say(store: Store, kind: str, time: int, body: dict, **private: str) -> None:
    store.journal.append([Draft(kind, {"booth": "north"} | body, time, time, "cli", private={"by": "badge-40"} | private)])
