"""The faults that an instrument can have, and what is said of each."""

from __future__ import annotations

STALE = "stale"
STUCK = "stuck"
JUMPING = "jumping"
OUT_OF_RANGE = "out_of_range"
DISAGREES = "disagrees"
CLOCK_OFF = "clock_off"
OUT_OF_OPERATING_RANGE = "out_of_operating_range"
OUT_OF_CALIBRATION = "out_of_calibration"
FAILED_CALIBRATION = "failed_calibration"

WORDS = {
    STALE: "sent nothing",
    STUCK: "was stuck",
    JUMPING: "jumped",
    OUT_OF_RANGE: "was out of its range",
    DISAGREES: "disagreed with its partner",
    CLOCK_OFF: "had its clock off",
    OUT_OF_OPERATING_RANGE: "was out of its operating range",
    OUT_OF_CALIBRATION: "was out of calibration",
    FAILED_CALIBRATION: "failed its calibration",
}
"""fault -> what the point did meanwhile."""

WATCHED = (STALE, STUCK, JUMPING, OUT_OF_RANGE, DISAGREES, CLOCK_OFF, OUT_OF_OPERATING_RANGE)
"""Faults that readings show; those of calibration follow from the calibration events in the journal."""

NO_EVIDENCE = frozenset(WORDS) - {STALE, OUT_OF_CALIBRATION}
"""Faults under which a reading is no evidence.

While a point is stale there is no reading, and one that came late after all is as good as any. An instrument whose calibration
has run out still shows what is wrong; it only can't prove that all was well (booth.judge.health.overlay).
"""
