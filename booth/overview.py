"""The state of the shop at a moment, out of the store alone: what `booth status` prints. It changes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from booth.alarms.book import AlarmBook
from booth.alarms.transition import read_transition
from booth.judge.assess import Assessment, assess
from booth.judge.facts import Job
from booth.judge.finding import Finding
from booth.judge.gather import Gatherer
from booth.judge.ledger import Ledger
from booth.reports.record import shop_of
from booth.shop.promises import Promises
from booth.shop.room import Booth, Point
from booth.shop.shop import Shop
from booth.store import Reading, Store
from booth.times import SECOND, format_time
from booth.units import show


def build_status(shop: Shop, store: Store, as_of: int) -> dict[str, Any]:
    """Booths, open jobs with their windows, alarms, instruments, quarantine, journal."""
    ledger = Ledger(store.journal.entries())
    book = AlarmBook()
    for entry in store.journal.entries(kinds=["alarm"]):
        book = book.after(read_transition(entry.body, entry.private))
    head = store.journal.head()
    jobs = [ledger.job(vehicle) for vehicle in ledger.vehicles]
    return {
        "at": format_time(as_of),
        "site": shop.site.name,
        "booths": {name: _booth(name, booth, ledger, store, as_of) for name, booth in shop.booths.items()},
        "open_jobs": [_open_job(shop, store, ledger, job, as_of) for job in jobs if job.round.closed is None],
        "closed_jobs": [job.vehicle for job in jobs if job.round.closed is not None],
        "alarms": [_alarm(alarm) for alarm in book.standing().values()],
        "instruments": list(_instruments(shop, store, ledger, as_of)),
        "quarantine": {
            "counts": store.quarantine.counts(),
            "recent": [
                {"origin": one.origin, "reason": one.reason, "sentence": one.sentence} for one in store.quarantine.recent(5)
            ],
        },
        "journal": {"entries": head.entries, "head": head.hash},
    }


def _booth(name: str, booth: Booth, ledger: Ledger, store: Store, as_of: int) -> dict[str, Any]:
    values = {
        point_id: _value(store.readings.latest(f"{name}/{point_id}"), point, as_of) for point_id, point in booth.points.items()
    }
    return {"name": booth.name, "kind": booth.kind, "vans": [van["vehicle"] for van in ledger.loaded(name)], "points": values}


def _value(reading: Reading | None, point: Point, as_of: int) -> dict[str, Any]:
    if reading is None:
        return {"text": "never heard", "time": None, "usable": False}
    text = reading.sent if point.measure == "mode" else show(reading.value, point.kind)
    age = as_of - reading.time
    return {
        "text": text,
        "time": format_time(reading.time),
        "age_s": age / SECOND,
        "usable": age <= point.max_age and reading.quality == "good",
    }


def _open_job(shop: Shop, store: Store, ledger: Ledger, job: Job, as_of: int) -> dict[str, Any]:
    own = shop_of(store, job, shop)
    assessment = assess(job, Promises(own), Gatherer(own, ledger, store.readings, as_of))
    now = [run for run in job.round.runs if run.end is None]
    windows = [_window(one) for one in _pending(assessment) if one.window is not None]
    return {
        "vehicle": job.vehicle,
        "process": job.process,
        "round": job.round.number,
        "opened": format_time(job.opened),
        "step": now[-1].step if now else None,
        "last_heard": format_time(_last_heard(job)),
        "verdict_so_far": assessment.verdict.value,
        "missed": [one.sentence for one in assessment.rounds[-1].findings if one.verdict.value == "missed"],
        "windows": windows,
    }


def _pending(assessment: Assessment) -> Iterator[Finding]:
    for finding in assessment.rounds[-1].findings:
        if not finding.final and finding.kind in (
            "flash_minimum",
            "flash_maximum",
            "bake_start",
            "pot_life",
            "heat_up",
            "dwell",
            "cool_minimum",
        ):
            yield finding


def _window(finding: Finding) -> dict[str, Any]:
    ends = {"earliest": finding.window.earliest, "latest": finding.window.latest}
    return {"requirement": finding.requirement} | {name: None if us is None else format_time(us) for name, us in ends.items()}


def _last_heard(job: Job) -> int:
    """The newest fact about a job; an open job with an old one is an ordinary state."""
    moments = [job.opened, *(check.time for round_ in job.rounds for check in round_.checks)]
    moments += [moment for run in job.round.runs for moment in (run.start, run.end) if moment is not None]
    return max(moments)


def _alarm(alarm) -> dict[str, Any]:
    condition = alarm.condition
    return {
        "alarm": condition.id,
        "booth": condition.booth,
        "vehicle": condition.vehicle,
        "priority": condition.priority,
        "state": alarm.state.value,
        "raised": format_time(alarm.raised),
        "sentence": condition.sentence,
        "what_to_do": condition.what_to_do,
    }


def _instruments(shop: Shop, store: Store, ledger: Ledger, as_of: int) -> Iterator[dict[str, Any]]:
    """Only those with something to say: silent, never heard, without a calibration in force."""
    for booth_id, booth in shop.booths.items():
        for point_id, point in booth.points.items():
            name = f"{booth_id}/{point_id}"
            said = []
            newest = store.readings.latest(name)
            if newest is None:
                said.append("never heard")
            elif as_of - newest.time > point.max_age:
                said.append(f"silent since {format_time(newest.time)}")
            known = ledger.calibrations(name)
            if point.instrument.calibrated and not any(one.result == "passed" and one.valid_until >= as_of for one in known[-1:]):
                said.append("no calibration in force")
            if said:
                yield {"point": name, "instrument": point.instrument.name, "says": said}
