"""The sections of a ventilation log that tell of people's work: alarms, care, what is due, instruments, the review."""

from __future__ import annotations

from booth.reports.blocks import Cell, Section, Text, table
from booth.reports.sections import alarms as record_alarms
from booth.reports.ventilation_words import dated
from booth.reports.words import NONE, SiteClock, counted, person
from booth.shop.care_shapes import OF_A_PERSON
from booth.times import TimeError

MOST_FAULTS = 8
"""Of one instrument on paper; the JSON has all of them."""

NAMES = {
    "filter-changed": "Filter changed",
    "grid": "Grid measured",
    "booth-examined": "Booth examined",
    "interlock-tested": "Interlock tested",
    "gauge-tested": "Gauge tested",
    "alarm-tested": "Alarm tested",
    "spray-training": "Spray training",
    "fit-test": "Fit test",
    "gun-type": "Gun type",
    "gun-cleaned": "Gun cleaned",
    "air-sample": "Air sample",
}


def alarms(log: dict, clock: SiteClock) -> Section:
    """In the same columns as a paint record, so that one reads like the other."""
    section = record_alarms(log, clock)
    return section if section.blocks else Section("Alarms", (Text("None stood in this period."),))


def care(log: dict, clock: SiteClock) -> Section:
    rows = [
        (
            clock.full(one["time"]),
            Cell(NAMES.get(one["kind"], one["kind"]), (one["subject"],) if one["subject"] else ()),
            _facts(one["facts"], clock),
            "not shown" if one["kind"] in OF_A_PERSON else person(one["by"]),
        )
        for one in log["care"]
    ]
    about = "As entered. Whose a training or fit test is stands in the journal. What a sample means stands in its report."
    return Section("Care in this period", table("Time 21 | What 22 | As entered 42 | By 15", rows, about=about if rows else ""))


def _facts(facts: dict, clock: SiteClock) -> str:
    return "; ".join(f"{key.replace('_', ' ')}: {_words(value, clock)}" for key, value in facts.items()) or NONE


def _words(value: object, clock: SiteClock) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key} {one}" for key, one in value.items())
    try:
        return clock.full(str(value))
    except TimeError:
        return str(value)


def due(log: dict, clock: SiteClock) -> Section:
    rows = [
        (
            Cell(NAMES.get(one["kind"], one["kind"]), (one["subject"],) if one["subject"] else ()),
            dated(one["last"], clock) if one["last"] else "never recorded",
            Cell(dated(one["due"], clock) if one["due"] else "", strong="over" if one["over"] else ""),
            one["source"],
        )
        for one in log["due"]
    ]
    about = "As of the moment of issue. Whose training or fit test it is stands in the journal."
    return Section("What is due", table("Care 28 | Last done 20 | Due 18 | Rule 34", rows, about=about))


def instruments(log: dict, clock: SiteClock) -> Section:
    rows = []
    for one in log["instruments"]:
        told = tuple(
            f"{cal['result']} {dated(cal['time'], clock)}, valid until {dated(cal['valid_until'], clock)}"
            for cal in one["calibrations"]
        )
        told += _faults(one["faults"])
        spread = f"± {one['expanded_uncertainty']}" if one["expanded_uncertainty"] else NONE
        rows.append((one["point"], Cell(one["name"], (one["type"],)), spread, Cell(_in_force(one), told)))
    titles = "Point 24 | Instrument 30 | Uncertainty 16 | Calibration and faults in this period 30"
    about = "Uncertainty is expanded, k = 2. What an instrument said while it had a fault counts as not read."
    return Section("Instruments", table(titles, rows, about=about))


def _faults(faults: list[dict]) -> tuple[str, ...]:
    more = len(faults) - MOST_FAULTS
    return tuple(one["sentence"] for one in faults[:MOST_FAULTS]) + ((f"and {counted(more, 'fault')} more",) if more > 0 else ())


def _in_force(one: dict) -> str:
    if not one["calibrated"]:
        return "none asked for"
    if one["in_force"]:
        return "in force throughout"
    return "not in force throughout" if one["calibrations"] else "no calibration on record"


def review(log: dict, clock: SiteClock) -> Section:
    rows = [
        (
            clock.full(one["time"]),
            f"{dated(one['from'], clock)} to {dated(one['to'], clock)}",
            person(one["text"]),
            person(one["by"]),
        )
        for one in log["reviews"]
    ]
    line = "_" * 24
    sign = Text(f"Reviewed by {line}   Date {line[:14]}   Signature {line}")
    told = Text(
        f"The reviewer puts it into the journal as well: booth event review booth={log['booth']} from={log['from']} "
        f'to={log["to"]} text="…" --by BADGE'
    )
    return Section("Review", (*table("Entered 21 | Period 25 | What was found 36 | By 18", rows), sign, told))
