"""What is to be said of an instrument at a moment: whether it speaks, what is wrong with it, and its calibration."""

from __future__ import annotations

from booth.judge.facts import Calibration
from booth.judge.health.faults import OUT_OF_CALIBRATION, STALE, WORDS
from booth.judge.health.spans import Interval
from booth.judge.ledger import Ledger
from booth.shop.point import Point
from booth.store import Reading

SILENT = "silent"
NO_CALIBRATION = "no calibration in force"


def faults_of(ledger: Ledger, name: str, point: Point, since: int, as_of: int) -> list[Interval]:
    """When a point could not be believed, as far as it touches [since, as_of]."""
    return [
        one
        for one in ledger.unhealthy(name)
        if one.touches(since, as_of + 1) and (point.instrument.calibrated or one.fault != OUT_OF_CALIBRATION)
    ]


def wrong_with(ledger: Ledger, name: str, point: Point, reading: Reading | None, as_of: int) -> list[str]:
    """What is wrong now, in words; empty where nothing is. `reading` is its newest one."""
    found = _of_reading(point, reading, as_of)
    faults = [one.fault for one in faults_of(ledger, name, point, as_of, as_of)]
    # Silence is told by the newest reading, and the end of a calibration by the calibration.
    found += dict.fromkeys(WORDS[one] for one in faults if one not in (STALE, OUT_OF_CALIBRATION))
    calibration = calibration_at(ledger, name, as_of)
    if point.instrument.calibrated and not in_force(calibration, as_of):
        found.append(NO_CALIBRATION)
    return found


def calibration_at(ledger: Ledger, name: str, as_of: int) -> Calibration | None:
    """The newest of a point at a moment."""
    return next((one for one in reversed(ledger.calibrations(name)) if one.time <= as_of), None)


def in_force(calibration: Calibration | None, as_of: int) -> bool:
    return calibration is not None and calibration.result == "passed" and calibration.valid_until >= as_of


def _of_reading(point: Point, reading: Reading | None, as_of: int) -> list[str]:
    if reading is None:
        return ["never heard"]
    if as_of - reading.time > point.max_age:
        return [SILENT]
    return [] if reading.quality == "good" else [f"its newest reading is of quality {reading.quality}"]
