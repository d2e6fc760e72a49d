"""One shift on one page: what was painted, open, missed, unproven; who acknowledged what; what must not be forgotten."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from booth.judge.facts import Job
from booth.overview import build_status
from booth.shop.shop import Shop
from booth.store import Entry, Store
from booth.times import HOUR, format_time, parse_time
from booth.web.desk.booths_view import windows_told
from booth.web.desk.memory import Memory
from booth.web.desk.record_index import Row

WAITED_FOR_US = 7 * 24 * HOUR
"""Longer ago than this is found under Records, and no longer a thing that a shift hands to the next."""


def handover_view(shop: Shop, store: Store, known: Memory, start: int, end: int) -> dict[str, Any]:
    """The shift [start, end). Its open vans, alarms and instruments are as they stood at its end."""
    status = build_status(shop, store, end)
    rows = [row for row in known.index.rows() if row.opened < end and (row.closed is None or row.closed >= start)]
    issued = list(_issued(known, start, end))
    return {
        "start": start,
        "end": end,
        "painted": [one for row in rows if (one := _painted(row, known.ledger.job(row.vehicle), start, end)) is not None],
        "open": [job | {"windows": windows_told(job["windows"], end)} for job in status["open_jobs"]],
        "missed": [one for one in issued if one["verdict"] == "missed"],
        "unproven": [one for one in issued if one["verdict"] == "unproven"],
        "alarms": [row for row in known.alarms if _within(row, start, end)],
        "instruments": _together(status["instruments"]),
        "quarantine": status["quarantine"]["counts"],
        "notes": list(_notes(known, start, end)),
        "waiting": [row for row in known.index.rows() if _waits(row, end)],
    }


def _painted(row: Row, job: Job, start: int, end: int) -> dict[str, Any] | None:
    """A van with the steps that were done to it in the shift; None if there were none."""
    runs = [run for round_ in job.rounds for run in round_.runs if run.start < end and (run.end is None or run.end > start)]
    if not runs:
        return None
    return {
        "vehicle": row.vehicle,
        "process": row.process,
        "booths": sorted({run.booth for run in runs if run.booth}),
        "steps": [run.step for run in sorted(runs, key=lambda run: run.start)],
        "start": min(run.start for run in runs),
        "end": None if any(run.end is None for run in runs) else max(run.end for run in runs),
        "verdict": row.verdict.value,
        "state": row.state,
    }


def _issued(known: Memory, start: int, end: int) -> Iterator[dict[str, Any]]:
    """What wasn't met of the steps that ended in the shift; of a step that was issued twice, the newest."""
    newest: dict[tuple, Entry] = {}
    for entry in known.entries["finding"]:
        if start <= entry.effective < end:
            newest[entry.body["vehicle"], entry.body["round"], entry.body["step"]] = entry
    for (vehicle, number, step), entry in newest.items():
        for one in entry.body["findings"]:
            if one["verdict"] != "met":
                about = {"vehicle": vehicle, "round": number, "step": step, "at": entry.effective}
                yield about | {"verdict": one["verdict"], "sentence": one["sentence"]}


def _within(alarm: dict[str, Any], start: int, end: int) -> bool:
    raised = parse_time(alarm["raised"])
    gone = alarm["returned"] is not None and parse_time(alarm["returned"]) < start
    return raised < end and not gone and (raised >= start or alarm["state"] not in ("normal", "out_of_service"))


def _together(instruments: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Those of one booth that have the same to say, in one line."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in instruments:
        booth, _, point = row["point"].partition("/")
        found.setdefault((booth, "; ".join(row["says"])), []).append(f"{point} ({row['instrument']})")
    return [{"booth": booth, "says": says, "points": points} for (booth, says), points in found.items()]


def _notes(known: Memory, start: int, end: int) -> Iterator[dict[str, Any]]:
    for entry in known.entries["note"]:
        if start <= entry.effective < end:
            said = {"text": entry.private.get("text"), "by": entry.private.get("by")}
            yield {"vehicle": entry.body["vehicle"], "at": format_time(entry.effective)} | said


def _waits(row: Row, end: int) -> bool:
    """A van that is done and not met, and that nobody has released: somebody must decide."""
    done = row.closed is not None and end - WAITED_FOR_US <= row.closed <= end
    return done and row.verdict.value != "met" and not row.state.startswith("released")
