"""What must hold for a whole van, in whatever order its journal and its readings came."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from booth.judge.assess import assess
from booth.judge.finding import Finding
from booth.judge.gather import Gatherer
from booth.judge.ledger import Ledger
from booth.judge.track import Stretch
from booth.shop.promises import Promises
from booth.store import Reading, Store
from booth.times import MINUTE, format_time
from tests.judge.made_up import MadeUpReadings, Van, at, good_van


def spoilt_van() -> Van:
    """A van with something of everything: a gap, a miss, a forgotten end told by the guns, a correction, a rework."""
    van = good_van()
    van.silent("humidity", 75, 81)
    van.reads("part-2", 13.5, 45, 50)
    van.forget("step-end", step="clear-2")
    van.step("clear-2", 94.5, 107.5, channel="inferred")
    wrong = van.tell("check", 68, check="uniformly-matt", result="failed")
    van.tell("correction", 69, corrects=wrong, set={"time": format_time(at(60))}, reason="wrong minute")
    van.tell("reopen", 300, reason="dust")
    van.step("bake", 310, 330)
    return van


def findings(van: Van, entries: Sequence, source: MadeUpReadings | None = None, minute: float = 1000) -> list[Finding]:
    ledger = Ledger(entries)
    gatherer = Gatherer(van.shop, ledger, source or van.readings, at(minute))
    assessed = assess(ledger.job(van.vehicle), Promises(van.shop), gatherer)
    return [one for round_ in assessed.rounds for one in round_.findings]


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_the_order_of_recording_does_not_matter(seed: int) -> None:
    van = spoilt_van()
    shuffled = list(van.entries)
    random.Random(seed).shuffle(shuffled)
    # Recorded in that order: their place in the journal is new, their times are not.
    renumbered = [replace(entry, seq=number) for number, entry in enumerate(shuffled, 1)]
    assert findings(van, renumbered) == findings(van, van.entries)


@settings(max_examples=30, deadline=None)
@given(cut=st.integers(0, 60), asked=st.booleans())
def test_a_ledger_fed_in_two_halves_is_the_ledger_fed_at_once(cut: int, asked: bool) -> None:
    van = spoilt_van()
    halves = Ledger(van.entries[:cut])
    if asked:
        halves.job(van.vehicle)  # an answer in between must not stay
    for entry in van.entries[cut:]:
        halves.add(entry)
    assert halves.job(van.vehicle) == Ledger(van.entries).job(van.vehicle)


@settings(max_examples=10, deadline=None)
@given(days=st.integers(-300, 300), us=st.integers(0, 999_999))
def test_shifting_everything_in_time_changes_nothing_but_times(days: int, us: int) -> None:
    van = spoilt_van()
    later = days * 24 * 60 * MINUTE + us
    moved = [replace(entry, effective=entry.effective + later, body=_moved(entry.body, later)) for entry in van.entries]
    shifted = MadeUpReadings()
    for point, known in van.readings.all():
        shifted.put(point, known[0] + later, known[1])
    there = findings(van, moved, shifted, 1000 + later / MINUTE)
    assert [_earlier(one, later) for one in there] == findings(van, van.entries)


def _moved(body: dict, later: int) -> dict:
    moved = dict(body)
    if "set" in body and "time" in body["set"]:
        moved["set"] = body["set"] | {"time": format_time(at(60) + later)}
    if "valid_until" in body:
        moved["valid_until"] = format_time(at(400_000) + later)
    return moved


def _earlier(finding: Finding, by: int) -> Finding:
    def back(moment: int | None) -> int | None:
        return None if moment is None else moment - by

    window = finding.window and replace(
        finding.window, earliest=back(finding.window.earliest), latest=back(finding.window.latest)
    )
    excursions = tuple(Stretch(one.start - by, one.end - by, one.worst) for one in finding.excursions)
    return replace(finding, start=back(finding.start), end=back(finding.end), window=window, excursions=excursions)


@settings(max_examples=3, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_the_order_of_arrival_and_doubled_readings_do_not_matter(tmp_path_factory, seed: int) -> None:
    """Through the real store: every reading in disorder, a third of them twice."""
    van = spoilt_van()
    chance = random.Random(seed)
    rows = [
        Reading(point, int(time), int(time), repr(float(value)), "", float(value), 1)
        for point, (times, values_) in van.readings.all()
        for time, value in zip(times, values_, strict=True)
    ]
    rows += chance.sample(rows, len(rows) // 3)
    chance.shuffle(rows)
    folder: Path = tmp_path_factory.mktemp("store")
    with Store.open(folder, writer=True) as store:
        for first in range(0, len(rows), 5000):
            store.readings.append(rows[first : first + 5000])
        assert findings(van, van.entries, store.readings) == findings(van, van.entries)


def test_a_planted_dependence_on_arrival_would_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fold that takes facts in the order of recording fails the property above."""
    van = spoilt_van()
    right = findings(van, van.entries)
    backwards = [replace(entry, seq=number) for number, entry in enumerate(reversed(van.entries), 1)]
    assert findings(van, backwards) == right
    by_recording = lambda self, entries: sorted(_unsorted(self, entries), key=lambda fact: fact.entry.seq)  # noqa: E731
    _unsorted = Ledger._facts
    monkeypatch.setattr(Ledger, "_facts", by_recording)
    try:
        broken = findings(van, backwards)
    except (AttributeError, IndexError, TypeError, ValueError):
        return
    assert broken != right
