"""What stands where in a record's document: the one outline that HTML and PDF both render.

Blocks are plain data: text, tables of cells, figures. A renderer decides only how they look.
"""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from booth.reports import sections
from booth.reports.blocks import Block, Figure, Section, Text
from booth.reports.figures import record_figures
from booth.reports.finding_tables import differs, round_findings, round_title
from booth.reports.traces import Traces
from booth.reports.words import MEANING, SiteClock, all_findings, clean_all, counted
from booth.times import parse_time


@dataclass(frozen=True)
class Outline:
    """The whole document. `warnings` stand with the verdict, or alone where there is none; `foot` at the first page's foot."""

    kind: str  # what sort of document it is
    title: str
    subject: str  # the vehicle or booth that it is about
    site: str
    issued: str  # for people
    issued_at: str  # RFC 3339, for the file's own date
    facts: tuple[tuple[str, str], ...]
    verdict: str | None
    meaning: str
    counts: str
    sentences: tuple[str, ...]
    warnings: tuple[str, ...]
    foot: str
    sections: tuple[Section, ...]


def outline(record: dict, traces: Traces) -> Outline:
    """A record and its traces, laid out. Texts are cleaned here, once (words.clean)."""
    record = clean_all(record)
    clock = SiteClock.at_site(record["site"]["time_zone"], record["job"]["opened"])
    return Outline(
        kind="Paint record",
        title=f"Paint record {record['vehicle']}",
        subject=record["vehicle"],
        site=record["site"]["name"],
        issued=clock.full(record["issued"]),
        issued_at=record["issued"],
        facts=_facts(record, clock),
        verdict=record["verdict"],
        meaning=MEANING[record["verdict"]],
        counts=_counts(record),
        sentences=tuple(record["summary"]),
        warnings=_warnings(record),
        foot=_foot(record),
        sections=tuple(section for section in _sections(record, traces, clock) if section.blocks),
    )


def _facts(record: dict, clock: SiteClock) -> tuple[tuple[str, str], ...]:
    job, process, journal, software = record["job"], record["process"], record["journal"], record["software"]
    chain = "verified" if journal["verified"] else "NOT verified"
    closed = clock.full(job["closed"]) if job["closed"] else "still open"
    return (
        ("Site", record["site"]["name"] + (" (invented)" if record["site"]["invented"] else "")),
        ("Body", job["body"]),
        ("Job", f"{clock.full(job['opened'])} to {closed}; {job['outcome']}"),
        ("Process", f"{process['name']}, version {process['version']} ({process['id']}, SHA-256 {process['sha256'][:12]}…)"),
        ("Issued", clock.full(record["issued"])),
        ("Times", clock.sentence()),
        (
            "Journal",
            f"{journal['entries']} entries, head {journal['head'][:12]}…, {chain}",
        ),
        ("Software", f"{software['name']} {software['version']}"),
    )


def _counts(record: dict) -> str:
    found = [finding["verdict"] for _, _, finding in all_findings(record)]
    parts = [f"{found.count(verdict)} {verdict}" for verdict in ("missed", "unproven", "met") if found.count(verdict)]
    if not parts:
        return "No requirement has been judged."
    return f"{counted(len(found), 'requirement')} judged: {', '.join(parts)}."


def _warnings(record: dict) -> tuple[str, ...]:
    warnings = []
    if record["site"]["invented"]:
        warnings.append("Invented data: this site, its vehicles, people and readings do not exist.")
    if record["job"]["state"] == "open":
        warnings.append("The job is still open: findings marked “not final” can still change.")
    if not record["journal"]["verified"]:
        warnings.append("The journal’s chain did NOT verify when this record was issued: its entries may have been altered.")
    changed = sum(differs(finding) for _, _, finding in all_findings(record))
    if changed:
        warnings.append(f"{counted(changed, 'finding')} recomputed for this record and not as first issued; both are shown.")
    if record["concessions"]:
        warnings.append(f"{counted(len(record['concessions']), 'concession')} granted: see “Concessions and releases”.")
    return tuple(warnings)


def _foot(record: dict) -> str:
    first = record["cautions"][0] if record["cautions"] else "This record is an aid for keeping records, not a safety device."
    return f"{first} All cautions stand at the end of this document."


def _sections(record: dict, traces: Traces, clock: SiteClock) -> list[Section]:
    figures = [_charts(round_, record, traces, clock.zone) for round_ in record["rounds"]]
    findings = [round_findings(round_, record, clock) for round_ in record["rounds"]]
    return [
        *figures,
        *findings,
        sections.checks(record, clock),
        sections.materials(record, clock),
        sections.film(record, clock),
        sections.alarms(record, clock),
        sections.decisions(record, clock),
        sections.corrections(record, clock),
        sections.notes(record, clock),
        sections.instruments(record, clock),
        sections.not_stated(record),
        sections.verification(record),
        sections.evidence(record),
        Section("Cautions", tuple(Text(caution) for caution in record["cautions"])),
    ]


def _charts(round_: dict, record: dict, traces: Traces, zone: ZoneInfo) -> Section:
    shown = traces
    if len(record["rounds"]) > 1:  # rounds may lie weeks apart: each gets its own clock
        start = parse_time(round_["opened"])
        end = parse_time(round_["closed"] or record["issued"])
        shown = traces.between(max(start, traces.start), min(end, traces.end))
    drawn = record_figures(shown, zone, f"round{round_['round']}") if shown.end > shown.start else []
    blocks: list[Block] = [Figure(figure.title, figure.caption, figure.svg) for figure in drawn]
    return Section(round_title("Course of the job", round_, record), tuple(blocks))
