"""The state of the shop at a moment, out of the store alone: what `booth status` prints. It changes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from booth.alarms.book import AlarmBook
from booth.alarms.transition import window_body
from booth.instruments import faults_of, wrong_with
from booth.judge.assess import Assessment, assess
from booth.judge.facts import Job
from booth.judge.finding import Finding
from booth.judge.gather import Gatherer
from booth.judge.health.entries import told
from booth.judge.ledger import Ledger
from booth.reports.judged import ledger_at, shop_of
from booth.shop.point import Point
from booth.shop.promises import Promises
from booth.shop.room import Booth
from booth.shop.shop import Shop
from booth.store import Reading, Store
from booth.times import DAY, HOUR, MINUTE, format_time, parse_time
from booth.units import show

WINDOWED = ("flash_minimum", "flash_maximum", "bake_start", "pot_life", "heat_up", "dwell", "cool_minimum", "cool_below")
"""Kinds of requirement with an earliest or latest moment that somebody waits for."""

LOOK_BACK = (MINUTE, HOUR, DAY)
QUARANTINE_SHOWN = 8
FAULTS_SHOWN_US = DAY
"""Faults of the instruments that ended longer ago than this are for the page of the instruments."""


def newest_moment(store: Store) -> int:
    """When the journal was last written to; a store whose clock ran ahead of this machine's is judged as of then."""
    head = store.journal.head()
    return max((entry.recorded for entry in store.journal.entries(after=head.entries - 1)), default=0)


def build_status(shop: Shop, store: Store, as_of: int) -> dict[str, Any]:
    """Booths, open jobs with their windows, alarms, instruments, quarantine, journal, as of a moment."""
    ledger = ledger_at(store, as_of)
    newest = newest_of(shop, store, as_of)
    head = store.journal.head()
    return {
        "at": format_time(as_of),
        "site": shop.site.name,
        **booths_and_jobs(shop, store, ledger, newest, as_of),
        "closed_jobs": [vehicle for vehicle in ledger.vehicles if ledger.job(vehicle).round.closed is not None],
        "alarms": list(_alarms(store, as_of)),
        "instruments": list(instruments(shop, ledger, newest, as_of)),
        "quarantine": {
            "counts": store.quarantine.counts(),
            "recent": [
                {"origin": one.origin, "reason": one.reason, "sentence": one.sentence}
                for one in store.quarantine.recent(QUARANTINE_SHOWN)
            ],
        },
        "journal": {"entries": head.entries, "head": head.hash},
    }


def booths_and_jobs(shop: Shop, store: Store, ledger: Ledger, newest: dict[str, Reading | None], as_of: int) -> dict[str, Any]:
    """The booths and the open jobs of a status, for whoever knows the journal already."""
    booths = {name: booth_state(name, booth, ledger, newest, as_of) for name, booth in shop.booths.items()}
    jobs = [ledger.job(vehicle) for vehicle in ledger.vehicles]
    open_jobs = [open_job(shop, store, ledger, job, booths, as_of) for job in jobs if job.round.closed is None]
    return {"booths": booths, "open_jobs": open_jobs}


def newest_of(shop: Shop, store: Store, as_of: int) -> dict[str, Reading | None]:
    """The newest reading of every point of the shop at a moment."""
    points = [f"{name}/{point}" for name, booth in shop.booths.items() for point in booth.points]
    return {point: newest_reading(store, point, as_of) for point in points}


def newest_reading(store: Store, point: str, as_of: int) -> Reading | None:
    """The newest reading of a point at a moment; None if there was none in the day before it."""
    latest = store.readings.latest(point)
    if latest is None or latest.time <= as_of:
        return latest
    for back in LOOK_BACK:
        rows = list(store.readings.rows(point, as_of - back, as_of + 1))
        if rows:
            return rows[-1]
    return None


def booth_state(name: str, booth: Booth, ledger: Ledger, newest: dict[str, Reading | None], as_of: int) -> dict[str, Any]:
    readings = {point_id: newest[f"{name}/{point_id}"] for point_id in booth.points}
    heard = max((reading.time for reading in readings.values() if reading is not None), default=None)
    return {
        "name": booth.name,
        "kind": booth.kind,
        "vans": [van["vehicle"] for van in ledger.loaded(name)],
        "last_heard": None if heard is None else format_time(heard),
        "points": {point_id: _value(reading, booth.points[point_id], as_of) for point_id, reading in readings.items()},
    }


def _value(reading: Reading | None, point: Point, as_of: int) -> dict[str, Any]:
    if reading is None:
        return {"text": "never heard", "time": None, "age_s": None, "usable": False}
    text = reading.sent if point.measure == "mode" else show(reading.value, point.kind)
    age = as_of - reading.time
    usable = age <= point.max_age and reading.quality == "good"
    return {"text": text, "time": format_time(reading.time), "age_s": age / 1e6, "usable": usable}


def open_job(shop: Shop, store: Store, ledger: Ledger, job: Job, booths: dict[str, Any], as_of: int) -> dict[str, Any]:
    own = shop_of(store, job, shop)
    assessment = assess(job, Promises(own), Gatherer(own, ledger, store.readings, as_of))
    now = [run for run in job.round.runs if run.end is None]
    booth = job.places[-1].booth if job.places and job.places[-1].end is None else None
    return {
        "vehicle": job.vehicle,
        "process": job.process,
        "booth": booth,
        "round": job.round.number,
        "opened": format_time(job.opened),
        "step": now[-1].step if now else None,
        "last_heard": _last_heard(job, booths.get(booth)),
        "heard": any(value["usable"] for value in booths.get(booth, {"points": {}})["points"].values()),
        "verdict_so_far": assessment.verdict.value,
        "missed": [one.sentence for one in assessment.rounds[-1].findings if one.verdict.value == "missed"],
        "windows": [_window(one) for one in _pending(assessment)],
    }


def _pending(assessment: Assessment) -> Iterator[Finding]:
    for finding in assessment.rounds[-1].findings:
        if not finding.final and finding.kind in WINDOWED and finding.window is not None:
            yield finding


def _window(finding: Finding) -> dict[str, Any]:
    """Its moments, and by how many seconds they may come sooner or later with about 95 %."""
    return {"requirement": finding.requirement} | window_body(finding.window)


def _last_heard(job: Job, booth: dict[str, Any] | None) -> str:
    """The newest fact about a job, or reading of its booth; an open job with an old one is an ordinary state."""
    moments = [job.opened, *(check.time for round_ in job.rounds for check in round_.checks)]
    moments += [moment for run in job.round.runs for moment in (run.start, run.end) if moment is not None]
    if booth is not None and booth["last_heard"] is not None:
        moments.append(parse_time(booth["last_heard"]))
    return format_time(max(moments))


def _alarms(store: Store, as_of: int) -> Iterator[dict[str, Any]]:
    book = AlarmBook.fold(entry.body for entry in store.journal.entries(kinds=["alarm"]) if entry.effective <= as_of)
    for alarm in book.standing().values():
        condition = alarm.condition
        yield {
            "alarm": condition.id,
            "booth": condition.booth,
            "vehicle": condition.vehicle,
            "priority": condition.priority,
            "state": alarm.state.value,
            "raised": format_time(alarm.raised),
            "sentence": condition.sentence,
            "what_to_do": condition.what_to_do,
        }


def instruments(shop: Shop, ledger: Ledger, newest: dict[str, Reading | None], as_of: int) -> Iterator[dict[str, Any]]:
    """Only those with something to say: never heard, silent, contradicted, at fault, without a calibration in force."""
    for booth_id, booth in shop.booths.items():
        for point_id, point in booth.points.items():
            name = f"{booth_id}/{point_id}"
            reading = newest[name]
            faults = [told(one) for one in faults_of(ledger, name, point, as_of - FAULTS_SHOWN_US, as_of)]
            said = wrong_with(ledger, name, point, reading, as_of)
            if said or faults:
                since = format_time(reading.time) if reading is not None else None
                row = {"point": name, "instrument": point.instrument.name, "says": said, "last_heard": since}
                yield row | {"faults": faults}
