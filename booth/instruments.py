"""Every instrument at a moment, out of the store alone: how old its newest reading is, what is wrong with it, when it is due.

For the page "Instruments" of a board, and whoever else wants to know on a Monday.
"""

from __future__ import annotations

from typing import Any

from booth.judge.facts import Calibration
from booth.judge.health.entries import told
from booth.judge.health.faults import OUT_OF_CALIBRATION
from booth.judge.health.spans import Interval
from booth.judge.health.terms import terms_of
from booth.judge.ledger import Ledger
from booth.reports.judged import ledger_at
from booth.shop.room import Point
from booth.shop.shop import Shop
from booth.store import Store
from booth.times import HOUR, SECOND, format_time

DAY = 24 * HOUR


def build_instruments(
    shop: Shop, store: Store, as_of: int, days: int = 30, ledger: Ledger | None = None
) -> list[dict[str, Any]]:
    """One row for each point, in the order of the configuration.

    `point`, `booth`, `name`, `instrument`, `type`; `newest` (RFC 3339, null if never heard) and `age_s`; `faults` that last now
    and `intervals` of the last `days`, each `fault`, `start`, `end`, `sentence`; `calibrated` where a calibration is asked for;
    `calibration` with `result`, `time`, `due`, `in_force`, null where none is known; `told_within`: what is looked for, and how
    soon it is told.
    """
    known = ledger_at(store, as_of) if ledger is None else ledger
    return [
        _row(shop, store, known, booth, name, point, as_of, days)
        for booth, room in shop.booths.items()
        for name, point in room.points.items()
    ]


def faults_of(ledger: Ledger, name: str, point: Point, since: int, as_of: int) -> list[Interval]:
    """When a point could not be believed, as far as it touches [since, as_of]."""
    return [
        one
        for one in ledger.unhealthy(name)
        if one.touches(since, as_of + 1) and (point.instrument.calibrated or one.fault != OUT_OF_CALIBRATION)
    ]


def _row(shop: Shop, store: Store, ledger: Ledger, booth: str, name: str, point: Point, as_of: int, days: int) -> dict[str, Any]:
    full = f"{booth}/{name}"
    newest = _newest(store, full, point, as_of)
    lately = faults_of(ledger, full, point, as_of - days * DAY, as_of)
    lateness = shop.site.judging.allowed_lateness
    return {
        "point": full,
        "booth": booth,
        "name": name,
        "instrument": point.instrument.name,
        "type": point.instrument.type,
        "newest": None if newest is None else format_time(newest),
        "age_s": None if newest is None else (as_of - newest) / SECOND,
        "faults": [told(one) for one in lately if one.end is None or one.end > as_of],
        "intervals": [told(one) for one in lately],
        "calibrated": point.instrument.calibrated,
        "calibration": _calibration([one for one in ledger.calibrations(full) if one.time <= as_of], as_of),
        "told_within": [
            {"fault": fault, "within_s": (us + lateness) / SECOND} for fault, us in terms_of(shop, booth, name).told_within()
        ],
    }


def _newest(store: Store, name: str, point: Point, as_of: int) -> int | None:
    """Time of the newest reading, of whatever quality."""
    latest = store.readings.latest(name)
    if latest is None or latest.time <= as_of:
        return None if latest is None else latest.time
    before = store.readings.evidence(name, as_of - DAY, as_of + 1, 30 * DAY)
    return int(before.times[-1]) if len(before) else None


def _calibration(known: list[Calibration], as_of: int) -> dict[str, Any] | None:
    if not known:
        return None
    last = known[-1]
    in_force = last.result == "passed" and last.valid_until >= as_of
    due = format_time(last.valid_until)
    return {"result": last.result, "time": format_time(last.time), "due": due, "in_force": in_force}
