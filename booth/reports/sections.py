"""The sections beside the findings, each from its part of the record to blocks."""

from __future__ import annotations

from booth.judge.health.faults import WORDS
from booth.reports.blocks import Cell, Section, Text, table
from booth.reports.finding_tables import requirement_name
from booth.reports.words import NONE, REDACTED, SiteClock, all_findings, measured_words, person
from booth.times import TimeError


def checks(record: dict, clock: SiteClock) -> Section:
    rows = [
        (clock.at(check["time"]), check["check"], check["result"], _pairs(check["values"], clock), person(check["by"]))
        for check in record["checks"]
    ]
    return Section("Checks", table("Time 15 | Check 22 | Result 15 | Values 33 | By 15", rows))


def _pairs(values: dict | None, clock: SiteClock) -> str:
    return "; ".join(f"{key}: {_word(value, clock)}" for key, value in (values or {}).items()) or NONE


def _word(value: object, clock: SiteClock) -> str:
    try:
        return REDACTED if value is None else clock.full(str(value))
    except TimeError:
        return str(value)


def materials(record: dict, clock: SiteClock) -> Section:
    mixes = [
        (mix["mix"], mix["coating"], clock.at(mix["time"]), mix["pot"] or NONE, _pairs(mix["lots"], clock), person(mix["by"]))
        for mix in record["mixes"]
    ]
    lots = [
        (lot["lot"], lot["coating"], lot["component"], lot["mix"] or NONE, ", ".join(lot["steps"]) or NONE)
        for lot in record["lots"]
    ]
    blocks = table("Mix 13 | Coating 22 | Mixed 14 | Pot 10 | Lots 28 | By 13", mixes, "Mixes")
    blocks += table("Lot 22 | Coating 24 | Component 16 | Mix 13 | Steps 25", lots, "Lots")
    return Section("Materials", blocks)


def film(record: dict, clock: SiteClock) -> Section:
    rows = [
        (
            row["step"],
            row["zone"] or NONE,
            measured_words(row["value"], "film"),
            row["gauge"] or NONE,
            clock.at(row["time"]),
            person(row["by"]),
        )
        for row in record["film"]
    ]
    return Section("Film thickness", table("Step 17 | Zone 15 | Value 20 | Gauge 18 | Time 15 | By 15", rows))


def alarms(record: dict, clock: SiteClock) -> Section:
    rows = []
    for alarm in record["alarms"]:
        acknowledged = NONE
        if alarm["acknowledged"]:
            acknowledged = f"{clock.at(alarm['acknowledged'])} by {person(alarm['acknowledged_by'])}"
        about = " · ".join(part for part in (alarm["step"], alarm["requirement"]) if part)
        told = Cell(alarm["sentence"] or REDACTED, (about,) if about else ())
        rows.append(
            (clock.at(alarm["raised"]), str(alarm["priority"]), told, acknowledged, clock.at(alarm["returned"]), alarm["state"])
        )
    return Section("Alarms", table("Raised 11 | Priority 10 | Alarm 40 | Acknowledged 17 | Returned 11 | State 15", rows))


def decisions(record: dict, clock: SiteClock) -> Section:
    granted = [
        (str(number), item["requirement"], person(item["reason"]), person(item["by"]), clock.full(item["time"]))
        for number, item in enumerate(record["concessions"], start=1)
    ]
    releases = [
        (clock.full(item.get("time")), person(item.get("reason", "")), person(item.get("by", ""))) for item in record["releases"]
    ]
    blocks = table("No. 6 | Requirement 24 | Reason 36 | By 14 | Time 20", granted, "Concessions", _CONCESSION)
    return Section("Concessions and releases", blocks + table("Released 25 | Reason 55 | By 20", releases, "Releases"))


_CONCESSION = "Release in spite of a requirement missed or unproven, by a named person; the verdict stays as it is."


def corrections(record: dict, clock: SiteClock) -> Section:
    rows = []
    for item in record["corrections"]:
        what = Cell(item["what"] or REDACTED, (f"entry {item['corrects']}",))
        rows.append((clock.full(item["time"]), what, _pairs(item["set"], clock), person(item["reason"]), person(item["by"])))
    return Section("Corrections", table("Time 15 | What was corrected 28 | Now reads 22 | Reason 22 | By 13", rows))


def notes(record: dict, clock: SiteClock) -> Section:
    rows = [(clock.full(note["time"]), person(note["text"]), person(note["by"])) for note in record["notes"]]
    return Section("Notes", table("Time 20 | Note 65 | By 15", rows))


def instruments(record: dict, clock: SiteClock) -> Section:
    rows = []
    for item in record["instruments"]:
        calibration = item["calibration"]
        told = Cell("no calibration on record")
        if calibration:
            told = Cell(calibration["result"], (f"{clock.full(calibration['time'])}, valid until {_until(calibration, clock)}",))
        told = Cell(told.text, (*told.notes, *(_fault(one, clock) for one in item.get("faults", ()))))
        spread = item["expanded_uncertainty"]
        spread = NONE if spread is None else f"±{spread:g}" if isinstance(spread, float) else str(spread)
        rows.append((item["point"], Cell(item["name"] or NONE, (item["type"],) if item["type"] else ()), spread, told))
    about = "Uncertainty is expanded, k = 2."
    return Section("Instruments", table("Point 25 | Instrument 30 | Uncertainty 17 | Calibration 28", rows, about=about))


def _fault(fault: dict, clock: SiteClock) -> str:
    """`was stuck from … to …`: meanwhile it was not believed."""
    begin = "since ever" if fault["start"] is None else f"from {clock.full(fault['start'])}"
    return f"{WORDS[fault['fault']]} {begin}" + ("" if fault["end"] is None else f" to {clock.full(fault['end'])}")


def _until(calibration: dict, clock: SiteClock) -> str:
    until = calibration["valid_until"]
    return NONE if until is None else clock.full(until) if "T" in until else until


def not_stated(record: dict) -> Section:
    process = record["process"]
    rule = {"simple": "A value on the limit or inside it is met; uncertainty is shown, not subtracted."}
    rule["guarded"] = "Within the expanded uncertainty of a limit, on either side, the verdict is unproven."
    told = Text(f"Decision rule: {process['decision_rule']}. {rule.get(process['decision_rule'], '')}".rstrip())
    sentences = [Text(sentence) for sentence in process["not_stated"]] or [Text("Every limit of the process is stated.")]
    return Section("Decision rule, and limits that no source states", (told, *sentences))


def verification(record: dict) -> Section:
    journal = record["journal"]
    state = "verified" if journal["verified"] else "did NOT verify"
    told = (
        f"The journal had {journal['entries']} entries, and its chain {state} when this record was issued. Whoever holds the "
        "site’s store checks this record with “booth verify”: it recomputes the chain, which must reach the head given here, and "
        "the SHA-256 of each finding’s evidence; the option “--head” with this head also shows whether the journal’s end has "
        "been cut off."
    )
    hashes = [
        ("Journal head", Cell(journal["head"], mono=True)),
        ("Process", Cell(record["process"]["sha256"], mono=True)),
        ("Configuration", Cell(record["config"]["sha256"], mono=True)),
    ]
    return Section("How to verify this record", (Text(told), *table("What 18 | SHA-256 82", hashes)))


def evidence(record: dict) -> Section:
    rows = []
    for number, step, finding in all_findings(record):
        if finding["evidence_sha256"]:
            where = f"round {number}, " if len(record["rounds"]) > 1 else ""
            name = f"{where}{step or 'whole round'}: {requirement_name(finding)}"
            rows.append((name, Cell(finding["evidence_sha256"], mono=True)))
    return Section("Appendix: evidence", table("Requirement 32 | SHA-256 of the readings judged 68", rows))
