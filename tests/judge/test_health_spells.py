"""Faults of a stretch, found among years of them: the same as one by one."""

from __future__ import annotations

from types import SimpleNamespace

from hypothesis import given
from hypothesis import strategies as st

from booth.judge.health.entries import interval_body
from booth.judge.health.spans import Interval
from booth.judge.health.spells import Spells
from booth.judge.ledger import Ledger

intervals = st.builds(
    lambda fault, start, length, withdrawn: Interval("p", fault, start, length and start + length, start, withdrawn=withdrawn),
    st.sampled_from(["stuck", "stale"]),
    st.integers(0, 50),
    st.none() | st.integers(1, 20),
    st.booleans(),
)


@given(st.lists(intervals, max_size=12), st.integers(0, 60), st.integers(1, 20))
def test_a_stretch_has_those_that_touch_it(known: list[Interval], start: int, length: int) -> None:
    known.sort(key=lambda one: (one.start, one.fault))
    found = Spells(known).touching(start, start + length)
    assert sorted(map(repr, found)) == sorted(repr(one) for one in known if one.touches(start, start + length))


def entry(number: int, point: str, start: int, end: int | None) -> SimpleNamespace:
    body = interval_body(Interval(point, "stuck", start, end, start))
    return SimpleNamespace(
        seq=number, id=str(number), kind="health", effective=start, recorded=start, channel="logger", body=body, private={}
    )


def test_news_of_one_point_leaves_what_is_known_of_the_others() -> None:
    ledger = Ledger([entry(1, "b/one", 10, None), entry(2, "b/two", 10, None)])
    one, two = ledger.unhealthy("b/one"), ledger.unhealthy("b/two")
    ledger.add(entry(3, "b/two", 10, 30))
    assert ledger.unhealthy("b/one") is one
    assert [(fault.end, fault.entries) for fault in ledger.unhealthy("b/two")] == [(30, 2)] and two[0].end is None
    assert [fault.end for fault in ledger.unhealthy("b/two", known_by=9)] == []
    assert ledger.doubts("b/two", 0, 99, known_by=9) == [] and len(ledger.doubts("b/two", 0, 99, known_by=10)) == 1
    assert [(fault.end, fault.entries) for fault in ledger.health("b/two", known_by=10)] == [(30, 2)]
    assert ledger.health_since("b/two", 30) == [] and len(ledger.health_since("b/two", 29)) == 1
    assert len(ledger.health_since("b/one", 99)) == 1  # it lasts
    assert ledger.watched_points == ["b/one", "b/two"]
    assert ledger.doubts("b/two", 30, 40) == [] and len(ledger.doubts("b/two", 29, 40)) == 1
