"""One van's record as its page shows it: judged, told in the documents' own words, and kept for the next request.

Kept for as long as the journal stays as it is, and a few seconds more than the readings of an open job.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from booth.reports import sections
from booth.reports.blocks import Section, Table, Text
from booth.reports.finding_tables import round_findings
from booth.reports.judged import Judged, judge_in
from booth.reports.record import build_record
from booth.reports.words import MEANING, SiteClock, all_findings, clean_all, counted, limit_words, value_words
from booth.store import Entry, Store, Verification
from booth.times import MINUTE, SECOND, duration_text
from booth.web.board import Board
from booth.web.desk.memory import Memory
from booth.web.desk.shelf import Shelf
from booth.web.desk.traces_data import PageTraces, excursion_rows, gap_rows, page_traces

KEPT = 4  # an 8-hour job at 1 Hz is about 6 MB of arrays
OPEN_FOR, CLOSED_FOR = 5 * SECOND, MINUTE
CORRECTABLE = ("step-start", "step-end", "check", "film", "job-open", "job-close", "hold", "resume")


@dataclass(frozen=True)
class Shown:
    """A record with its traces, who had a hand in the coats, and the entries that a correction can be about."""

    record: dict[str, Any]
    traces: PageTraces
    sprayers: frozenset[str]
    entries: tuple[Entry, ...]


class Records:
    """Records made lately."""

    def __init__(self, memory: Memory) -> None:
        self._memory, self._shelf = memory, Shelf(KEPT)

    def shown(self, board: Board, store: Store, vehicle: str, as_of: int) -> Shown:
        """As of a moment, or a little before it. Raises NoSuchVehicle."""
        with self._memory.following(store) as known:
            ledger, read_to = known.lent(store), known.read_to
        job = ledger.job(vehicle)
        still_open = job is None or job.round.closed is None
        key = (vehicle, read_to, as_of // (OPEN_FOR if still_open else CLOSED_FOR))
        return self._shelf.get(key, lambda: _shown(judge_in(ledger, board.shop, store, vehicle, as_of), known))


def _shown(judged: Judged, known: Memory) -> Shown:
    head = judged.store.journal.head()
    # The chain is checked and the evidence hashed whenever a document is made; a page claims neither, and needn't wait for them.
    record = build_record(judged, Verification(False, head.entries, head.hash, ()), hashed=False)
    return Shown(record, page_traces(judged, record["alarms"]), judged.job.sprayers, tuple(_entries(judged, known)))


def _entries(judged: Judged, known: Memory) -> list[Entry]:
    """What a correction can be about: entries that name the van, its loads and its mixes."""
    vehicle = judged.job.vehicle
    mixes = {name for round_ in judged.job.rounds for run in round_.runs for name in run.mixes}
    found = [*judged.store.journal.entries(vehicle=vehicle, kinds=CORRECTABLE)]
    with known.following(judged.store):
        found += [one for one in known.entries["load"] if any(van["vehicle"] == vehicle for van in one.body["vans"])]
        found += [one for one in known.entries["mix"] if one.body["mix"] in mixes]
    return sorted(found, key=lambda one: (one.effective, one.seq))


def page_of(shown: Shown) -> dict[str, Any]:
    """Everything that the template shows of it, cleaned once as documents are."""
    record = clean_all(shown.record)
    clock = SiteClock.at_site(record["site"]["time_zone"], record["job"]["opened"])
    return {
        "record": record,
        "meaning": MEANING[record["verdict"]],
        "counts": _counts(record),
        "clock": clock,
        "rounds": [_round(round_findings(round_, record, clock)) for round_ in record["rounds"]],
        "decided": [one for one in (sections.decisions(record, clock), sections.notes(record, clock)) if one.blocks],
        "papers": _papers(record, clock),
        "excursions": [_excursion(row, clock) for row in excursion_rows(record)],
        "gaps": [_gap(row, clock) for row in gap_rows(shown.traces)],
        "wanting": wanting(record),
    }


def _round(section: Section) -> dict[str, Any]:
    """A round's findings, a table for each step; those that have nothing but met stay shut."""
    told = [block for block in section.blocks if isinstance(block, Text)]
    tables = [block for block in section.blocks if isinstance(block, Table)]
    return {"title": section.title, "told": told, "steps": [_step(block) for block in tables]}


def _step(block: Table) -> dict[str, Any]:
    verdicts = [cell.verdict for row in block.rows for cell in row if cell.verdict]
    counts = ", ".join(f"{verdicts.count(one)} {one}" for one in ("missed", "unproven", "met") if one in verdicts)
    worst = next((one for one in ("missed", "unproven") if one in verdicts), "met")
    return {"title": block.title, "table": replace(block, title=""), "counts": counts, "worst": worst}


def _papers(record: dict[str, Any], clock: SiteClock) -> list[Section]:
    made = (sections.alarms, sections.checks, sections.materials, sections.film, sections.corrections, sections.instruments)
    told = [*(make(record, clock) for make in made), sections.not_stated(record)]
    return [section for section in told if section.blocks]


def _counts(record: dict[str, Any]) -> str:
    found = [finding["verdict"] for _, _, finding in all_findings(record)]
    parts = [f"{found.count(verdict)} {verdict}" for verdict in ("missed", "unproven", "met") if found.count(verdict)]
    return f"{counted(len(found), 'requirement')}: {', '.join(parts)}" if parts else "Nothing has been judged yet"


def wanting(record: dict[str, Any]) -> list[dict[str, Any]]:
    """What a release of the latest round would have to go on in spite of: missed or unproven, neither remedied nor conceded."""
    last = record["rounds"][-1]
    findings = [*last["findings"], *(finding for step in last["steps"] for finding in step["findings"])]
    open_ones = [one for one in findings if one["verdict"] != "met" and not one["remedied_by"] and one["concession"] is None]
    return sorted(open_ones, key=lambda one: one["verdict"] != "missed")


def _excursion(row: dict[str, Any], clock: SiteClock) -> dict[str, str]:
    return {
        "step": row["step"],
        "requirement": row["requirement"].partition("/")[2].replace("_", " ").replace("booth:", "booth: "),
        "verdict": row["verdict"],
        "from": clock.at(row["start"]),
        "to": clock.at(row["end"]),
        "for": duration_text(round(row["seconds"] * SECOND)),
        "worst": "–" if row["worst"] is None else value_words(row["worst"], row["quantity"]),
        "limit": limit_words(row["low"], row["high"], row["quantity"]),
    }


def _gap(row: dict[str, Any], clock: SiteClock) -> dict[str, str]:
    return {"line": row["line"], "from": clock.at(row["start"]), "to": clock.at(row["end"])} | {
        "for": duration_text(round(row["seconds"] * SECOND))
    }
