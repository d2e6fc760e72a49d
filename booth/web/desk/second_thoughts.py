"""Which issued steps rest on readings that came into doubt afterwards: by a fault or a failed calibration told after the issue.

A list of records shows what was issued; this says where a record, judged anew, may say something else.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections import defaultdict

from booth.grounds import grounds_in
from booth.judge.health.calibration import EVER
from booth.judge.health.entries import read_interval
from booth.judge.health.faults import FAILED_CALIBRATION
from booth.judge.health.spans import Interval
from booth.store import Entry

Step = tuple[str, int, str]  # vehicle, round, step
Fault = tuple[str, str, int]  # point, fault, start


class SecondThoughts:
    """Feed it every entry once, in order."""

    def __init__(self) -> None:
        self._issued: dict[Step, int] = {}  # -> seq of the newest issue
        self._resting: dict[str, list[tuple[int, int, Step]]] = defaultdict(list)  # point -> (end, start, step), by end
        self._first_told: dict[Fault, int] = {}  # -> seq
        self._good: dict[str, int] = {}  # point -> when it last passed a calibration
        self._doubts: dict[str, dict[Step, set[Fault]]] = defaultdict(lambda: defaultdict(set))  # by vehicle

    def of(self, vehicle: str, number: int) -> bool:
        """Whether anything issued for this round of a van came into doubt afterwards."""
        own = self._doubts.get(vehicle, {})
        return any(step[1] == number and faults for step, faults in own.items())

    def add(self, entry: Entry) -> set[str]:
        """The vans of which it says something new."""
        if entry.kind == "finding":
            return self._issue(entry)
        if entry.kind == "health":
            return self._doubt(read_interval(entry.body), entry.seq)
        if entry.kind == "calibration" and "result" in entry.body:
            return self._calibrated(entry)
        return set()

    def _issue(self, entry: Entry) -> set[str]:
        step = (entry.body["vehicle"], entry.body["round"], entry.body["step"])
        self._issued[step] = entry.seq
        self._doubts[step[0]].pop(step, None)
        for ground, _ in grounds_in(entry.body):
            for point in ground.points:
                insort(self._resting[point], (ground.end, ground.start, step))
        return {step[0]}

    def _calibrated(self, entry: Entry) -> set[str]:
        point, at = f"{entry.body.get('booth')}/{entry.body['point']}", entry.effective
        if entry.body["result"] == "passed":
            self._good[point] = max(at, self._good.get(point, at))
            return set()
        return self._doubt(Interval(point, FAILED_CALIBRATION, self._good.get(point, EVER), None, at), entry.seq)

    def _doubt(self, fault: Interval, seq: int) -> set[str]:
        identity = (fault.point, fault.fault, fault.start)
        told = self._first_told.setdefault(identity, seq)
        resting = self._resting[fault.point]
        about = set()
        for _, start, step in resting[bisect_right(resting, fault.start, key=lambda one: one[0]) :]:
            if told > self._issued[step] and (fault.end is None or start < fault.end):
                doubts = self._doubts[step[0]][step]
                (doubts.discard if fault.withdrawn else doubts.add)(identity)
                about.add(step[0])
        return about
