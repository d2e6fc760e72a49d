"""One time that an alarm appeared, with all that became of it: as it is now, and as it stood at a moment of the past."""

from __future__ import annotations

from typing import Any

from booth.alarms.transition import Transition
from booth.reports.record_papers import moved
from booth.times import format_time

AT_REST = ("normal", "out_of_service")


class Appearance:
    """From one appearance to the next. `row` is its newest state for a page, another dict at each change."""

    def __init__(self, first: Transition) -> None:
        condition = first.condition
        about = {"booth": condition.booth, "vehicle": condition.vehicle, "what_to_do": condition.what_to_do}
        self._began = {"alarm": first.alarm_id, "warned": None, "raised": format_time(first.at), "returned": None} | about
        self._moves: list[tuple[Transition, str | None]] = []
        self.since = first.at
        self.row: dict[str, Any] = self._began

    def add(self, move: Transition, by: str | None) -> None:
        self._moves.append((move, by))
        self.row = self.row | moved(self.row, move, by)

    def during(self, start: int, end: int) -> dict[str, Any] | None:
        """As it stood at the end of [start, end); None if it appeared later or was over before."""
        known = [(move, by) for move, by in self._moves if move.at < end]
        if not known or self._over_before(start):
            return None
        row = self._began
        for move, by in known:
            row = row | moved(row, move, by)
        stood = [move for move, _ in known if move.at >= start]
        return row if stood or row["state"] not in AT_REST else None

    def _over_before(self, start: int) -> bool:
        """Told first, since it is so for years of them."""
        return self._moves[-1][0].at < start and self.row["state"] in AT_REST
