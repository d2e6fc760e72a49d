"""A backlog is looked at for faults however old it is: what nobody looked at would be evidence."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from plants import demo_shop

from booth.diagnosing import MOST_AT_ONCE, Diagnoser
from booth.judge.ledger import Ledger
from booth.store import Reading, Store
from booth.times import HOUR, MINUTE, SECOND, parse_time

NOW = parse_time("2026-07-13T12:00:00Z")
SPRAYING = float(demo_shop().booths["south"].points["mode"].words.index("spray"))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path, writer=True) as opened:
        yield opened


class Play:
    """A diagnoser that is asked every minute, with everything that it drafts written down."""

    def __init__(self, store: Store, left_off: int) -> None:
        self.store, self.ledger = store, Ledger()
        self.diagnoser = Diagnoser(demo_shop(), store, self.ledger, left_off)

    def hear(self, readings: list[Reading]) -> None:
        self.store.readings.append(readings)
        self.diagnoser.add(readings)

    def look(self, minutes: range) -> None:
        for minute in minutes:
            for one in self.store.journal.append(self.diagnoser.drafts(NOW + minute * MINUTE)):
                assert one.new
                self.ledger.add(one.entry)
            self.diagnoser.written()

    def stuck(self) -> list[tuple[int, int | None]]:
        known = self.ledger.health("south/air-temperature")
        return [(one.start, one.end) for one in known if one.fault == "stuck" and not one.withdrawn]


def backlog(start: int, same_for: int = 2 * HOUR) -> list[Reading]:
    """Air that shows the very same for a while, sprayed in, and then another value once; it comes NOW."""
    times = range(start, start + same_for, 10 * SECOND)
    air = [Reading("south/air-temperature", time, NOW, "21.0", "degC", 21.0, 1) for time in times]
    air.append(Reading("south/air-temperature", start + same_for, NOW, "21.4", "degC", 21.4, 1))
    return air + [Reading("south/mode", time, NOW, "spray", "", SPRAYING, 1) for time in times]


@pytest.mark.parametrize("hours", [10, 40, 3 * MOST_AT_ONCE])
def test_what_comes_days_late_is_looked_at(store: Store, hours: int) -> None:
    play = Play(store, NOW - MINUTE)
    play.look(range(1))
    start = NOW - hours * HOUR
    play.hear(backlog(start))
    play.look(range(1, 15))
    assert play.stuck() == [(start, start + 2 * HOUR)]


@pytest.mark.parametrize("hours", [20, 60, 3 * MOST_AT_ONCE])
def test_what_came_while_no_logger_ran_is_looked_at(store: Store, hours: int) -> None:
    play = Play(store, NOW - hours * HOUR)
    start = NOW - (hours - 1) * HOUR
    play.hear(backlog(start))
    play.look(range(15))
    assert play.stuck() == [(start, start + 2 * HOUR)]


def test_a_late_reading_takes_back_a_fault_of_days_ago_and_leaves_those_after_it(store: Store) -> None:
    """Two runs of the same value, hours apart; a reading in the midst of the first shows that it wasn't stuck for long."""
    play = Play(store, NOW - 50 * HOUR)
    first, second = NOW - 45 * HOUR, NOW - 40 * HOUR
    play.hear(backlog(first, 20 * MINUTE) + backlog(second, 5 * HOUR))
    play.look(range(15))
    assert play.stuck() == [(first, first + 20 * MINUTE), (second, second + 5 * HOUR)]
    moment = first + 10 * MINUTE + SECOND
    play.hear([Reading("south/air-temperature", moment, NOW, "21.7", "degC", 21.7, 1)])
    play.look(range(15, 30))
    assert play.stuck() == [(second, second + 5 * HOUR)]
    said = [one.body for one in play.store.journal.entries(kinds=["health"]) if one.body["fault"] == "stuck"]
    again = [one for one in said if parse_time(one["start"]) == second]
    assert [one["withdrawn"] for one in said].count(True) == 1 and not any(one["withdrawn"] for one in again)
