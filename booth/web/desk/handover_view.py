"""One shift on one page: what was painted, open, missed, unproven; who acknowledged what; what must not be forgotten."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from booth.judge.facts import Job
from booth.judge.ledger import Ledger
from booth.overview import booth_state, instruments, newest_of, open_job
from booth.reports.judged import ledger_at
from booth.shop.shop import Shop
from booth.store import Entry, Reading, Store
from booth.times import DAY, format_time
from booth.web.desk.appearances import AT_REST
from booth.web.desk.booths_view import windows_told
from booth.web.desk.memory import Memory
from booth.web.desk.record_index import Row

WAITED_FOR_US = 7 * DAY
"""Longer ago than this is found under Records, and no longer a thing that a shift hands to the next."""


def handover_view(shop: Shop, store: Store, known: Memory, start: int, end: int, now: int) -> dict[str, Any]:
    """The shift [start, end). Its open vans, alarms and instruments are as they stood at its end; what has been made of its vans
    and records since is as of `now`.
    """
    with known.following(store):
        rows = [row for row in known.index.rows() if row.opened < end]
        there = [row for row in rows if row.closed is None or row.closed >= start]
        painted = [one for row in there if (one := _painted(row, known.ledger.job(row.vehicle), start, end)) is not None]
        issued = list(_issued(known, start, end))
        alarms = [row for one in known.alarms if (row := one.during(start, end)) is not None]
        notes = list(_notes(known, start, end))
        ledger = known.lent(store)
    if end < now:
        ledger = ledger_at(store, end)
    newest = newest_of(shop, store, end)
    still = [row.vehicle for row in there if row.closed is None or row.closed >= end]
    return {
        "start": start,
        "end": end,
        "past": end < now,
        "painted": painted,
        "open": list(_open(shop, store, ledger, reversed(still), newest, end)),
        "missed": [one for one in issued if one["verdict"] == "missed"],
        "unproven": [one for one in issued if one["verdict"] == "unproven"],
        "alarms": alarms,
        "unseen": [row for row in alarms if not row["acknowledged"] and row["state"] not in AT_REST],
        "instruments": _together(instruments(shop, ledger, newest, end)),
        "quarantine": store.quarantine.counts(),
        "notes": notes,
        "waiting": [row for row in rows if _waits(row, end)],
    }


def _open(
    shop: Shop, store: Store, ledger: Ledger, vehicles: Iterable[str], newest: dict[str, Reading | None], end: int
) -> Iterator[dict[str, Any]]:
    """The vans among these that were open at the end, with what is waited for."""
    booths = {name: booth_state(name, booth, ledger, newest, end) for name, booth in shop.booths.items()}
    for vehicle in vehicles:
        job = ledger.job(vehicle)
        if job is not None and job.round.closed is None:
            told = open_job(shop, store, ledger, job, booths, end)
            yield told | {"windows": windows_told(told["windows"], end)}


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
        "doubted": row.doubted,
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


def _together(told: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Those of one booth that have the same to say, in one line."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in told:
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
