"""The same readings whole, one at a time, late, doubled, out of order and across a restart: the same findings.

All through logger and store. And a planted bug that depends on the order of arrival must be caught, or this file proves nothing.
"""

from __future__ import annotations

import random
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
from plants import END, demo_shop, final_findings, play, shift_of_one_van

from booth.judge.series import Series
from booth.store import Store
from booth.store.readings import Readings
from booth.times import SECOND

LATENESS = demo_shop().site.judging.allowed_lateness


def by_tick() -> list[tuple[int, list]]:
    return [(tick, [message[1:] for message in group]) for tick, group in groupby(shift_of_one_van(), key=lambda one: one[0])]


def shuffled(seed: int) -> list[tuple[int, list]]:
    """Each message late by up to the allowed lateness, one in five twice, in the order in which they then arrive."""
    chance = random.Random(seed)
    arrivals = []
    for tick, topic, body in shift_of_one_van():
        for _ in range(2 if chance.random() < 0.2 else 1):
            late = chance.uniform(0, (LATENESS - 6 * SECOND) / SECOND)
            arrivals.append((tick + int(late) * SECOND, chance.random(), topic, body))
    arrivals.sort(key=lambda one: one[:2])
    return [(now, [one[2:] for one in group]) for now, group in groupby(arrivals, key=lambda one: one[0])]


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple]:
    with Store.open(tmp_path_factory.mktemp("undisturbed"), writer=True) as store:
        play(store, by_tick())
        found = final_findings(store)
    assert len(found) > 50  # a comparison of nothing with nothing would pass
    return found


def test_the_shift_whole(undisturbed: dict, tmp_path: Path) -> None:
    everything = [message[1:] for message in shift_of_one_van()]
    with Store.open(tmp_path, writer=True) as store:
        play(store, [(END, everything)])
        assert final_findings(store) == undisturbed


def test_reading_by_reading(undisturbed: dict, tmp_path: Path) -> None:
    one_each = [(tick, [message]) for tick, messages in by_tick() for message in messages]
    with Store.open(tmp_path, writer=True) as store:
        play(store, one_each, look_every=600 * SECOND)
        assert final_findings(store) == undisturbed


@pytest.mark.parametrize("seed", [1, 2])
def test_late_doubled_and_out_of_order(undisturbed: dict, tmp_path: Path, seed: int) -> None:
    with Store.open(tmp_path, writer=True) as store:
        logger = play(store, shuffled(seed))
        assert logger.counts.duplicates > 1000
        assert final_findings(store) == undisturbed


def test_across_restarts(undisturbed: dict, tmp_path: Path) -> None:
    ticks = by_tick()
    cuts = [0, 400, 401, 900, len(ticks)]
    for first, past in zip(cuts, cuts[1:], strict=False):
        with Store.open(tmp_path, writer=True) as store:
            play(store, ticks[max(0, first - 3) : past])  # what wasn't acknowledged comes again
    with Store.open(tmp_path) as store:
        assert final_findings(store) == undisturbed
        assert store.journal.verify().ok


def test_a_bug_that_depends_on_the_order_of_arrival_is_caught(
    undisturbed: dict, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Planted: evidence takes readings in the order in which they came, as if arrival were the time."""

    def by_arrival(self: Readings, point: str, start: int, end: int, max_age_us: int, known_by: int | None = None) -> Series:
        rows = sorted(self.rows(point, start - max_age_us, end, known_by), key=lambda one: (one.arrived, one.time))
        times = np.maximum.accumulate(np.array([one.arrived for one in rows], np.int64)) if rows else np.empty(0, np.int64)
        keep = np.append(np.diff(times) > 0, True)[: len(times)]
        return Series(times[keep], np.array([one.value for one in rows])[keep], max_age_us)

    with Store.open(tmp_path, writer=True) as store:
        play(store, shuffled(1))
        monkeypatch.setattr(Readings, "evidence", by_arrival)
        assert final_findings(store) != undisturbed
