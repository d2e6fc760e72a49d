"""What stands where in a ventilation log: the outline that HTML and PDF both render. Decides nothing, says what the log says."""

from __future__ import annotations

from booth.reports import ventilation_care
from booth.reports import ventilation_sections as sections
from booth.reports.blocks import Section, Text
from booth.reports.outline import Outline
from booth.reports.traces import Traces
from booth.reports.ventilation_figures import figures
from booth.reports.words import SiteClock, clean_all

DEFER = "Local regulations and the site’s permit decide what must be kept and reported; the strictest of them applies."
ESTIMATE = "An air velocity at one point is an index of the booth’s air, not a measurement of anybody’s exposure."


def ventilation_outline(log: dict, traces: Traces) -> Outline:
    """A log and its traces, laid out. Texts are cleaned here, once."""
    log = clean_all(log)
    clock = SiteClock.at_site(log["site"]["time_zone"], log["from"])
    title = f"Ventilation log {log['name']}, {clock.full(log['from'])[:16]} to {clock.full(log['to'])[:16]}"
    return Outline(
        kind="Ventilation log",
        title=title,
        subject=log["name"],
        site=log["site"]["name"],
        issued=clock.full(log["issued"]),
        issued_at=log["issued"],
        facts=_facts(log, clock),
        verdict=None,
        meaning="",
        counts="",
        sentences=tuple(log["summary"]),
        warnings=_warnings(log),
        foot=f"{log['cautions'][0]} All cautions stand at the end of this document.",
        sections=tuple(section for section in _sections(log, traces, clock) if section.blocks),
    )


def _facts(log: dict, clock: SiteClock) -> tuple[tuple[str, str], ...]:
    journal, software = log["journal"], log["software"]
    chain = "verified" if journal["verified"] else "NOT verified"
    config = "as in force then" if log["config"]["in_force_then"] else "as in force today"
    facts = [
        ("Site", log["site"]["name"] + (" (invented)" if log["site"]["invented"] else "")),
        ("Booth", f"{log['name']} ({log['booth']})" + (f", {log['volume_m3']:g} m³" if log["volume_m3"] else "")),
        ("Period", f"{clock.full(log['from'])} to {clock.full(log['to'])}"),
        ("Permit", log["permit"] or "no reference entered"),
        ("Issued", clock.full(log["issued"])),
        ("Times", clock.sentence()),
        ("Journal", f"{journal['entries']} entries, head {journal['head'][:12]}…, {chain}"),
        ("Rules", f"configuration {log['config']['sha256'][:12]}…, {config}"),
        ("Software", f"{software['name']} {software['version']}"),
    ]
    return tuple(facts)


def _warnings(log: dict) -> tuple[str, ...]:
    warnings = []
    if log["site"]["invented"]:
        warnings.append("Invented data: this site, its booths, people and readings do not exist.")
    if not log["journal"]["verified"]:
        warnings.append("The journal’s chain did NOT verify when this log was issued: its entries may have been altered.")
    return (*warnings, ESTIMATE, DEFER)


def _sections(log: dict, traces: Traces, clock: SiteClock) -> list[Section]:
    return [
        sections.use(log, clock),
        sections.air(log),
        sections.pressure(log),
        sections.balance(log),
        sections.beyond(log, clock),
        Section("Course of the period", figures(traces, clock.zone)),
        sections.bakes(log, clock),
        sections.clearance(log),
        sections.grid(log, clock),
        sections.filters(log, clock),
        sections.interlock(log, clock),
        ventilation_care.alarms(log, clock),
        sections.gaps(log, clock),
        ventilation_care.care(log, clock),
        ventilation_care.due(log, clock),
        ventilation_care.instruments(log, clock),
        sections.months(log),
        ventilation_care.review(log, clock),
        Section("Cautions", tuple(Text(caution) for caution in log["cautions"])),
    ]
