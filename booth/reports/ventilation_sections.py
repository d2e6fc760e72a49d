"""The sections of a ventilation log that tell of the air, each from its part of the log to blocks."""

from __future__ import annotations

from booth.reports.blocks import Cell, Section, Text, table
from booth.reports.ventilation_words import dated, day_and_shift, figure, from_to, length, share
from booth.reports.words import NONE, SiteClock, counted, limit_words, value_words

MOST_ROWS = 40
"""Rows of one table on paper; the JSON and CSV have all of them, and the document says so."""


def use(log: dict, clock: SiteClock) -> Section:
    rows = [
        (
            Cell(day_and_shift(row), (f"{clock.full(row['from'])[:16]} to {clock.full(row['to'])[11:16]}",)),
            _spent(row, "spray"),
            length(row["guns_on_s"] or None),
            *(_spent(row, mode) for mode in ("flash", "purge", "bake")),
            length(row["mode_unknown_s"]) if row["mode_unknown_s"] >= 1 else NONE,
        )
        for row in log["periods"]
    ]
    about = "By the booth’s own mode. Guns: time in which at least one was on. Not known: nothing told the mode."
    titles = "Day and shift 28 | Spraying 13 | Guns on 12 | Flash-off 12 | Purge 11 | Bake 12 | Not known 12"
    return Section("Use of the booth", table(titles, rows, about=about))


def _spent(row: dict, mode: str) -> str:
    """Nothing on record is no `0 s` where nobody knows what the mode was."""
    seconds = row["modes_s"].get(mode, 0.0)
    return NONE if not seconds and row["mode_unknown_s"] >= 1 else length(seconds)


def _sprayed(log: dict) -> list[dict]:
    return [row for row in log["periods"] if row["modes_s"].get("spray")]


def air(log: dict) -> Section:
    rows = []
    for row in _sprayed(log):
        velocity, flow = row["velocity"], row["flow"]
        below = NONE if velocity is None or velocity["minimum"] is None else _beyond(velocity)
        notes = (share(velocity["beyond_share"]),) if velocity is not None and velocity["beyond_share"] is not None else ()
        rows.append(
            (
                day_and_shift(row),
                figure(velocity, "velocity"),
                figure(velocity, "velocity", "lowest"),
                Cell(figure(row["grid_velocity"], "velocity"), _tied(row["grid_velocity"])),
                Cell(below, notes),
                Cell(figure(flow, "flow"), (f"lowest {figure(flow, 'flow', 'lowest')}",)),
                NONE if row["air_changes"] is None else f"{row['air_changes']:.0f}",
                _unread(velocity),
            )
        )
    limit = next((row["velocity"] for row in log["periods"] if row["velocity"] and row["velocity"]["minimum"] is not None), None)
    about = "While spraying; means over time. Air changes by the hour, from the mean flow and the booth’s volume."
    if limit is not None:
        least = limit_words(limit["minimum"], None, "velocity")
        about += f" The site’s minimum: {least} ({limit['source']}); the instrument’s uncertainty is not subtracted."
    titles = "Day and shift 14 | Mean at the probe 14 | Lowest 14 | Over the grid 15 | Below the minimum 10 | Flow 15 | Changes 9"
    return Section("Air while spraying", table(f"{titles} | Not read 9", rows, about=about))


def _tied(tied: dict | None) -> tuple[str, ...]:
    if tied is None:
        return ()
    return f"lowest {figure(tied, 'velocity', 'lowest')}", f"grid of {tied['measured'][:10]}, {tied['state']}"


def _beyond(told: dict) -> str:
    return "not known" if told["beyond_s"] is None else length(told["beyond_s"])


def _unread(told: dict | None) -> str:
    return NONE if told is None or told["unknown_s"] < 1 else length(told["unknown_s"])


def pressure(log: dict) -> Section:
    rows = []
    for row in _sprayed(log):
        told = row["pressure"]
        drops = [f"{name}: {figure(one, 'pressure')}" for name, one in row["filters"].items() if one is not None]
        beyond = NONE if told is None or (told["minimum"] is None and told["maximum"] is None) else _beyond(told)
        rows.append(
            (
                day_and_shift(row),
                figure(told, "pressure"),
                f"{figure(told, 'pressure', 'lowest')} to {figure(told, 'pressure', 'highest')}" if told else NONE,
                beyond,
                _unread(told),
                "; ".join(drops) or NONE,
            )
        )
    limit = next((row["pressure"] for row in log["periods"] if row["pressure"]), None)
    about = "While spraying. Booth pressure against the room outside: negative draws air in."
    if limit is not None and limit["source"] is not None:
        about += f" The site’s limits: {limit_words(limit['minimum'], limit['maximum'], 'pressure')} ({limit['source']})."
    titles = "Day and shift 15 | Booth pressure, mean 17 | Lowest to highest 26 | Beyond the limits 12 | Not read 10"
    return Section("Pressure while spraying", table(f"{titles} | Filter drop, mean 20", rows, about=about))


def balance(log: dict) -> Section:
    told = log["balance"]
    if told["why"] is not None:
        return Section("Make-up air against exhaust", (Text(f"No balance can be made: {told['why']}."),))
    rows = [_balance_row(day_and_shift(row), row["balance"]) for row in _sprayed(log)]
    about = (
        f"While spraying, where both were read: intake {told['intake']}, exhaust {told['exhaust']}. By volume, so that heated "
        "make-up air, which is thinner, counts too much. ± is k = 2. Negative: more goes out than comes in."
    )
    titles = "Day and shift 24 | Intake 16 | Exhaust 16 | Intake less exhaust 20 | Of the exhaust 12 | Not read 12"
    return Section("Make-up air against exhaust", table(titles, rows, about=about))


def _balance_row(when: str, one: dict) -> tuple:
    difference = NONE
    if one["difference"] is not None:
        spread = f" ± {one['difference_uncertainty']:.2f}" if one["difference_uncertainty"] is not None else ""
        difference = f"{one['difference']:+.2f}".replace("-", "−") + f"{spread} m³/s"
    part = NONE if one["share"] is None else f"{100 * one['share']:+.1f} %".replace("-", "−")
    return when, figure(one, "flow", "intake"), figure(one, "flow", "exhaust"), difference, part, _unread(one)


def beyond(log: dict, clock: SiteClock) -> Section:
    rows = []
    for row in log["periods"]:
        for name, key, kind in (("Air velocity", "velocity", "velocity"), ("Booth pressure", "pressure", "pressure")):
            for one in row[key]["beyond"] if row[key] is not None else ():
                rows.append((name, from_to(one, clock), length(one["seconds"]), value_words(one["worst"], kind)))
    shown = table("Measure 20 | From and to 42 | For 16 | Worst 22", rows[:MOST_ROWS])
    return Section("Beyond the site’s limits while spraying", shown + _more(rows))


def _more(rows: list) -> tuple[Text, ...]:
    left = len(rows) - MOST_ROWS
    return (Text(f"And {counted(left, 'row')} more: the JSON of this log has all of them."),) if left > 0 else ()


def bakes(log: dict, clock: SiteClock) -> Section:
    rows = []
    for one in log["bakes"]:
        first, last, ended = (_clock(one[key], clock) for key in ("purge_from", "purge_to", "end"))
        volumes = "no purge with a recorded flow"
        if one["volumes"] is not None:
            spread = f" ± {one['volumes_uncertainty']:.1f}" if one["volumes_uncertainty"] is not None else ""
            volumes = f"flow recorded equals {one['volumes']:.1f}{spread} volumes"
        purged = NONE if one["purge_from"] is None else f"{first} to {last}"
        silent = length(one["unknown_s"]) if one["unknown_s"] else NONE
        rows.append((clock.full(one["start"]), ended if one["end"] else "still on", purged, volumes, silent))
    about = "How much fresh air went through, by the flow instrument; not how clean the air became. ± is k = 2."
    titles = "Bake began 21 | Ended 13 | Purge before it 22 | Fresh air 32 | Not read 12"
    return Section("Fresh air before each bake", table(titles, rows, about=about))


def _clock(text: str | None, clock: SiteClock) -> str:
    """The time of day beside a date that the row has already."""
    return NONE if text is None else clock.full(text)[11:]


def clearance(log: dict) -> Section:
    one = log["clearance"]
    if one is None:
        return Section("Clearance time", (Text("No clearance time is on record: it is measured in the booth, with smoke."),))
    told = f"{length(one['seconds'])} after the last spraying with the fan on"
    return Section("Clearance time", (Text(f"{told}, as a smoke test of {one['smoke_test']} showed in this booth."),))


def grid(log: dict, clock: SiteClock) -> Section:
    one = log["grid"]
    if one is None:
        return Section("Measured grid", (Text("None is on record: the fixed probe is an index that nothing ties to the air."),))
    tie = "not stated: the fixed probe can’t be tied to it"
    if one["factor"] is not None:
        tie = f"{value_words(one['index'], 'velocity')}, so that the grid’s mean is {one['factor']:.2f} times the index"
    rows = [
        ("Measured", f"{clock.full(one['measured'])}, {one['state']} booth, mode {one['mode']}, {one['rule']} points"),
        ("With", one["instrument"] + (f", report {one['report']}" if one["report"] else "")),
        ("Mean and lowest", f"{value_words(one['mean'], 'velocity')}; {value_words(one['lowest'], 'velocity')}"),
        ("Fixed probe then", tie),
    ]
    if one["area_m2"] is not None:
        rows.append(("Flow through it", value_words(one["mean"] * one["area_m2"], "flow")))
    return Section("Measured grid", table("What 22 | Value 78", rows))


def filters(log: dict, clock: SiteClock) -> Section:
    rows = [
        (
            Cell(one["filter"], (f"{one['side']} side",)),
            dated(one["changed"], clock) if one["changed"] else "no change on record",
            one["paper"] or "no paper on file",
            Cell(value_words(one["change_out"], "pressure") if one["change_out"] is not None else "not stated", (one["source"],)),
            *_trend(one["trend"], clock),
        )
        for one in log["filters"]
    ]
    about = (
        "Drop while spraying, and a straight line through its means. The dates are where the line and its 95 % band meet the "
        "change-out drop; none is given further ahead than the line reaches back."
    )
    titles = "Filter 12 | Changed 13 | Efficiency paper 20 | Change-out drop 19 | Newest 14 | Reaches it 22"
    return Section("Filters", table(titles, rows, about=about))


def _trend(trend: dict | None, clock: SiteClock) -> tuple[Cell | str, Cell | str]:
    if trend is None:
        return NONE, "no instrument across it"
    newest = value_words(trend["newest"], "pressure") if trend["newest"] is not None else NONE
    if trend["slope_per_day"] is None:
        return newest, Cell("too few days of spraying to tell", (f"{counted(trend['points'], 'mean')} by the {trend['by']}",))
    slope = f"{trend['slope_per_day']:+.1f} ± {trend['slope_uncertainty']:.1f} Pa a day".replace("-", "−")
    if trend["expected"] is None:
        return newest, Cell("no date", (slope, trend["why"]))
    earliest, latest = (None if trend[name] is None else dated(trend[name], clock) for name in ("earliest", "latest"))
    between = f"between {earliest} and {latest}" if latest else f"{earliest} at the earliest"
    return newest, Cell(f"about {dated(trend['expected'], clock)}", (between, slope))


def interlock(log: dict, clock: SiteClock) -> Section:
    told = log["interlock"]
    blocks: tuple = ()
    if told["point"] is None:
        blocks = (Text("No point of this booth tells the fan’s interlock: its trips are not recorded."),)
    elif not told["open"]:
        blocks = (Text("The recorded interlock did not open."),)
    rows = [("Interlock open", from_to(one, clock)) for one in told["open"]]
    rows += [("Fault, said by the booth", from_to(one, clock)) for one in told["faults"]]
    return Section("Interlock and faults", blocks + table("What 35 | From and to 65", rows[:MOST_ROWS]) + _more(rows))


def gaps(log: dict, clock: SiteClock) -> Section:
    together: dict[tuple, list[str]] = {}
    for one in sorted(log["gaps"], key=lambda one: (-one["spraying_s"], one["from"])):
        key = (from_to(one, clock), one["seconds"], one["spraying_s"], one["mode_unknown_s"])
        together.setdefault(key, []).append(one["point"].partition("/")[2])
    rows = [
        (when, length(seconds), length(spraying or None), length(unknown or None), ", ".join(points))
        for (when, seconds, spraying, unknown), points in together.items()
    ]
    about = "Stretches without a usable reading. Nothing is filled in. Those while spraying come first."
    titles = "From and to 33 | For 12 | Of it spraying 12 | Mode not known 12 | Points 31"
    return Section("Gaps in the data", table(titles, rows[:MOST_ROWS], about=about) + _more(rows))


def months(log: dict) -> Section:
    kinds = (("velocity", "velocity"), ("flow", "flow"), ("pressure", "pressure"), ("filter_drop", "pressure"))
    rows = [
        (
            one["month"],
            f"{one['velocity']['hours_recorded']} of {one['hours']:.0f} h" if "velocity" in one else NONE,
            *(
                Cell(figure(one.get(key), kind), (f"lowest {figure(one[key], kind, 'lowest')}",) if _has(one, key) else ())
                for key, kind in kinds
            ),
        )
        for one in log["months"]
        if any(_has(one, key) for key, _ in kinds)
    ]
    about = "Means of hourly means over all modes, as one hour may hold several. Recorded: hours with an air velocity."
    titles = "Month 10 | Recorded 16 | Air velocity 19 | Flow 21 | Booth pressure 18 | Filter drop 16"
    return Section("Months at a glance", table(titles, rows, about=about))


def _has(one: dict, key: str) -> bool:
    return key in one and one[key]["mean"] is not None
