"""Health laid over evidence: what an unhealthy instrument said is a gap, and a finding says so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import tzinfo

import numpy as np

from booth.judge.finding import Finding, Verdict
from booth.judge.health.calibration import EVER
from booth.judge.health.faults import NO_EVIDENCE, OUT_OF_CALIBRATION, WORDS
from booth.judge.health.spans import Interval
from booth.judge.series import Series
from booth.times import to_datetime

NAMED = 3
"""So many faults a sentence names; the record lists all."""


def believable(series: Series, intervals: Iterable[Interval]) -> Series:
    """The series without the readings that were taken while the instrument had a fault."""
    if not len(series):
        return series
    begin, end = int(series.times[0]), int(series.times[-1]) + 1
    touching = [one for one in intervals if one.fault in NO_EVIDENCE and one.touches(begin, end)]
    if not touching:
        return series
    keep = np.ones(len(series), bool)
    for one in touching:
        first, past = np.searchsorted(series.times, (one.start, 2**62 if one.end is None else one.end))
        keep[first:past] = False
    return series if keep.all() else Series(series.times[keep], series.values[keep], series.max_age_us)


def explained(finding: Finding, intervals: Sequence[Interval], zone: tzinfo) -> Finding:
    """The finding with the faults that lie behind what is unproven about it.

    `intervals`: those of its points that touch its evidence. What an instrument out of calibration showed to be right isn't
    proven; what it showed to be wrong stays wrong.
    """
    verdict = finding.verdict
    if verdict is Verdict.MET and any(one.fault == OUT_OF_CALIBRATION for one in intervals):
        verdict = Verdict.UNPROVEN
    if verdict is not Verdict.UNPROVEN or not intervals:
        return finding
    why = "; ".join(in_words(one, zone) for one in intervals[:NAMED])
    more = f"; and {len(intervals) - NAMED} more" if len(intervals) > NAMED else ""
    return replace(finding, verdict=verdict, sentence=f"{finding.sentence}; {why}{more}")


def in_words(interval: Interval, zone: tzinfo) -> str:
    """`north/air-temperature was stuck 08:14–08:31` in the site's time."""
    if interval.start == EVER:
        return f"{interval.point} {WORDS[interval.fault]}, and no good one is known before"
    start = to_datetime(interval.start, zone)
    if interval.end is None:
        return f"{interval.point} {WORDS[interval.fault]}, since {start:%Y-%m-%d %H:%M}"
    end = to_datetime(interval.end, zone)
    if start.date() == end.date():
        return f"{interval.point} {WORDS[interval.fault]} {start:%H:%M}–{end:%H:%M}"
    return f"{interval.point} {WORDS[interval.fault]} {start:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M}"
