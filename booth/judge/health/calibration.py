"""Calibration: what a failed one, or one that ran out, says of the time before and after."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from booth.judge.facts import Calibration
from booth.judge.health.faults import FAILED_CALIBRATION, OUT_OF_CALIBRATION
from booth.judge.health.spans import Interval

EVER = 0
"""Since when an instrument that failed its first known calibration is in doubt: since ever."""


def calibration_intervals(known: Sequence[Calibration]) -> Iterator[Interval]:
    """Of one point's calibrations, oldest first.

    A failed as-found calibration puts everything since the last good one in doubt, and what follows until a good one: nobody can
    say when the instrument went off. One that ran out is in doubt until it is renewed.
    """
    good: Calibration | None = None
    failed: Calibration | None = None
    for one in known:
        if one.result == "passed":
            if failed is not None:
                yield _failed(good, failed, one.time)
            elif good is not None and good.valid_until < one.time:
                yield _ran_out(good, one.time)
            good, failed = one, None
        elif failed is None:
            failed = one
    if failed is not None:
        yield _failed(good, failed, None)
    elif good is not None:
        yield _ran_out(good, None)


def _failed(good: Calibration | None, failed: Calibration, end: int | None) -> Interval:
    return Interval(failed.point, FAILED_CALIBRATION, good.time if good else EVER, end, failed.time)


def _ran_out(good: Calibration, end: int | None) -> Interval:
    """One that is still good lies in the future, and touches nothing yet."""
    return Interval(good.point, OUT_OF_CALIBRATION, good.valid_until, end, good.valid_until)
