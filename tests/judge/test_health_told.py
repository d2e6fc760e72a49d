"""What is known of an instrument's faults, laid over evidence and told: gaps, verdicts, the journal's words, calibrations."""

from __future__ import annotations

from datetime import UTC

import numpy as np
import pytest

from booth.judge.facts import Calibration
from booth.judge.finding import Verdict
from booth.judge.health import faults
from booth.judge.health.calibration import EVER, calibration_intervals
from booth.judge.health.entries import entry_id, interval_body, read_interval, told
from booth.judge.health.overlay import believable, explained, in_words
from booth.judge.health.settling import Answer, as_known_at, back_to, changes, no_longer_asked
from booth.judge.health.spans import Interval, Span
from booth.times import MINUTE, SECOND, format_time
from tests.judge.made_up import at, good_van, series

DAY = 24 * 60


def fault(start: float, end: float | None, kind: str = faults.STUCK, **known) -> Interval:
    return Interval("north/humidity", kind, at(start), None if end is None else at(end), at(start), **known)


class TestGaps:
    """A reading taken under a fault is no evidence: from the fault's first moment, up to its end and without it."""

    def kept(self, *known: Interval) -> list[float]:
        found = believable(series(50, 0, 10, period_s=60), known)
        assert found.max_age_us == series(50, 0, 10).max_age_us and len(found.values) == len(found.times)
        return [(int(time) - at(0)) / MINUTE for time in found.times]

    def test_readings_of_a_fault_are_left_out(self) -> None:
        assert self.kept(fault(3, 6)) == [0, 1, 2, 6, 7, 8, 9]
        assert self.kept(fault(-5, 2), fault(8, None)) == [2, 3, 4, 5, 6, 7]
        assert self.kept(fault(9, None)) == [0, 1, 2, 3, 4, 5, 6, 7, 8]

    def test_faults_of_another_time_take_nothing(self) -> None:
        assert self.kept(fault(-5, 0), fault(10, 20), fault(3.2, 3.8)) == list(range(10))

    @pytest.mark.parametrize("kind", [faults.STALE, faults.OUT_OF_CALIBRATION])
    def test_what_came_late_or_from_an_instrument_out_of_calibration_still_shows_something(self, kind: str) -> None:
        assert self.kept(fault(3, 6, kind)) == list(range(10))

    @pytest.mark.parametrize("kind", sorted(faults.NO_EVIDENCE))
    def test_every_other_fault_takes_them(self, kind: str) -> None:
        assert self.kept(fault(3, 6, kind)) == [0, 1, 2, 6, 7, 8, 9]

    def test_nothing_of_nothing(self) -> None:
        assert len(believable(series(50, 0, 0), [fault(0, None)])) == 0


class TestFindings:
    def finding(self, verdict: Verdict):
        found = good_van().finding("clear-1/relative_humidity")
        return found.__class__(**{**vars(found), "verdict": verdict, "sentence": "Humidity"})

    def test_an_instrument_out_of_calibration_proves_nothing_good(self) -> None:
        found = explained(self.finding(Verdict.MET), [fault(0, None, faults.OUT_OF_CALIBRATION)], UTC)
        assert found.verdict is Verdict.UNPROVEN
        assert found.sentence == "Humidity; north/humidity was out of calibration, since 2026-07-13 11:00"

    def test_and_hides_nothing_bad(self) -> None:
        missed = self.finding(Verdict.MISSED)
        assert explained(missed, [fault(0, None, faults.OUT_OF_CALIBRATION)], UTC) is missed

    def test_any_other_fault_leaves_what_is_met_for_all_that_met(self) -> None:
        met = self.finding(Verdict.MET)
        assert explained(met, [fault(0, 5)], UTC) is met

    def test_what_is_unproven_names_three_faults_and_counts_the_rest(self) -> None:
        unproven = self.finding(Verdict.UNPROVEN)
        assert explained(unproven, [], UTC) is unproven
        three = explained(unproven, [fault(0, 5)] * 3, UTC).sentence
        assert three.count("was stuck 11:00–11:05") == 3 and "more" not in three
        five = explained(unproven, [fault(0, 5)] * 5, UTC).sentence
        assert five.count("was stuck") == 3 and five.endswith("; and 2 more")

    def test_days_are_named_where_they_differ(self) -> None:
        assert in_words(fault(0, DAY), UTC) == "north/humidity was stuck 2026-07-13 11:00 to 2026-07-14 11:00"
        ever = Interval("north/humidity", faults.FAILED_CALIBRATION, EVER, None, at(0))
        assert in_words(ever, UTC) == "north/humidity failed its calibration, and no good one is known before"


class TestTheJournal:
    @pytest.mark.parametrize(
        "one",
        [
            fault(0, 5),
            fault(0, None, withdrawn=True),
            fault(1, 2, faults.CLOCK_OFF, offset_us=-90 * SECOND),
        ],
    )
    def test_what_is_written_is_what_is_read(self, one: Interval) -> None:
        assert read_interval(interval_body(one)) == one

    def test_a_fault_is_told_with_its_times(self) -> None:
        body = interval_body(fault(0, 5))
        assert (body["point"], body["fault"], body["withdrawn"]) == ("north/humidity", "stuck", False)
        assert (body["start"], body["end"], body["certain"]) == tuple(map(format_time, (at(0), at(5), at(0))))
        assert body["sentence"] == f"north/humidity was stuck from {format_time(at(0))} to {format_time(at(5))}"
        assert "offset_s" not in body
        off = interval_body(fault(0, None, faults.CLOCK_OFF, offset_us=90 * SECOND))
        assert off["offset_s"] == 90 and off["end"] is None and "by +90 s" in off["sentence"]
        assert "withdrawn" in interval_body(fault(0, 5, withdrawn=True))["sentence"]

    def test_on_a_screen_since_ever_is_no_time(self) -> None:
        ever = told(Interval("north/humidity", faults.FAILED_CALIBRATION, EVER, None, at(0)))
        assert ever["start"] is None and ever["end"] is None
        assert ever["sentence"] == "north/humidity failed its calibration since ever"
        assert told(fault(0, 5)) == {
            "point": "north/humidity",
            "fault": "stuck",
            "start": format_time(at(0)),
            "end": format_time(at(5)),
            "sentence": f"north/humidity was stuck from {format_time(at(0))} to {format_time(at(5))}",
        }

    def test_the_same_news_has_the_same_id_and_other_news_another(self) -> None:
        assert entry_id(fault(0, 5)) == entry_id(fault(0, 5))
        others = [fault(0, 5), fault(1, 5), fault(0, 5, faults.JUMPING), fault(0, 5, entries=2)]
        assert len({entry_id(one) for one in others}) == 4


class TestWhatMustBeSaidAnew:
    """The journal is made to say what was found, and no more than that."""

    def news(self, spans: list[Span], known: list[Interval], start: float = 0, edge: float = 0) -> list[tuple]:
        found = changes("north/humidity", Answer(faults.STUCK, spans, at(start), at(edge)), known)
        return [
            ((one.start - at(0)) / MINUTE, None if one.end is None else (one.end - at(0)) / MINUTE, one.withdrawn, one.entries)
            for one in found
        ]

    def span(self, start: float, end: float | None) -> Span:
        return Span(at(start), None if end is None else at(end), at(start + 1))

    def test_what_is_new(self) -> None:
        assert self.news([self.span(2, 5)], []) == [(2, 5, False, 1)]

    def test_what_is_known_already_is_not_said_again(self) -> None:
        assert self.news([self.span(2, 5)], [fault(2, 5)]) == []
        assert self.news([], []) == []

    def test_what_has_ended_since(self) -> None:
        assert self.news([self.span(2, 5)], [fault(2, None)]) == [(2, 5, False, 2)]

    def test_what_was_withdrawn_and_is_there_after_all(self) -> None:
        assert self.news([self.span(2, 5)], [fault(2, 5, withdrawn=True, entries=2)]) == [(2, 5, False, 3)]

    def test_what_turns_out_not_to_have_been(self) -> None:
        assert self.news([], [fault(2, 5)]) == [(2, 5, True, 2)]
        assert self.news([], [fault(0, 5)]) == [(0, 5, True, 2)]
        assert self.news([], [fault(2, 5, withdrawn=True)]) == []

    def test_what_was_over_before_the_window_stays(self) -> None:
        assert self.news([], [fault(-9, -3)]) == []

    def test_what_lasted_into_the_window_and_is_not_there_ended_where_it_begins(self) -> None:
        assert self.news([], [fault(-9, None)]) == [(-9, 0, False, 2)]

    def test_the_rest_of_an_older_one_is_the_same_one(self) -> None:
        """Seen from the window's edge on only, but begun before, as the journal knows."""
        assert self.news([self.span(0, 5)], [fault(-9, None)]) == [(-9, 5, False, 2)]
        assert self.news([self.span(0, None)], [fault(-9, None)]) == []
        assert self.news([self.span(0, 5)], [fault(-9, 0)]) == [(-9, 5, False, 2)]
        # One that was over before, or withdrawn, is another.
        assert self.news([self.span(0, 5)], [fault(-9, -1)]) == [(0, 5, False, 1)]
        assert self.news([self.span(0, 5)], [fault(-9, None, withdrawn=True)]) == [(0, 5, False, 1)]

    def test_one_that_begins_beyond_the_edge_is_new(self) -> None:
        assert self.news([self.span(2, 5)], [fault(-9, 2)], edge=1) == [(2, 5, False, 1)]


def test_an_end_that_came_later_had_not_come_yet() -> None:
    known = [fault(2, 5), fault(7, None)]
    assert as_known_at(known, at(9)) == known
    assert as_known_at(known, at(5)) == [fault(2, 5)]
    assert as_known_at(known, at(4)) == [fault(2, None)]
    assert as_known_at(known, at(1)) == []
    # At the very moment a value is seen to be stuck; a silence is only known once it has been longer than it may be.
    assert as_known_at([fault(2, None)], at(2)) == [fault(2, None)]
    assert as_known_at([fault(2, None, faults.STALE)], at(2)) == []


def test_a_late_reading_takes_the_window_back_to_before_the_fault_that_it_may_undo() -> None:
    reach = 3 * MINUTE
    assert back_to(at(6), [], reach) == at(6)
    assert back_to(at(6), [fault(4, 8)], reach) == at(1)
    assert back_to(at(6), [fault(4, 8), fault(5, None, faults.JUMPING)], reach) == at(1)
    assert back_to(at(6), [fault(6, 8)], reach) == at(3)
    assert back_to(at(6), [fault(4, 6), fault(7, 8), fault(4, 8, withdrawn=True)], reach) == at(6)


def test_a_fault_that_nobody_looks_for_any_more_is_over() -> None:
    known = [fault(2, None), fault(3, 5), fault(4, None, withdrawn=True), fault(5, None, faults.JUMPING)]
    assert list(no_longer_asked(known, [faults.JUMPING], at(9))) == [fault(2, 9, entries=2)]
    # Nothing ends before it began.
    assert [one.end for one in no_longer_asked([fault(2, None)], [], at(1))] == [at(2) + 1]


class TestCalibrations:
    def told(self, *known: tuple[float, str, float]) -> list[tuple]:
        """(start, end, fault) in days, of calibrations (day, result, valid to day)."""
        all_of_them = [Calibration("p", at(day * DAY), result, at(until * DAY)) for day, result, until in known]
        return [
            (
                None if one.start == EVER else (one.start - at(0)) / MINUTE / DAY,
                None if one.end is None else (one.end - at(0)) / MINUTE / DAY,
                one.fault,
                (one.certain - at(0)) / MINUTE / DAY,
            )
            for one in calibration_intervals(all_of_them)
        ]

    def test_none_says_nothing(self) -> None:
        assert self.told() == []

    def test_a_good_one_runs_out(self) -> None:
        assert self.told((0, "passed", 365)) == [(365, None, "out_of_calibration", 365)]

    def test_a_renewal_in_time_leaves_no_gap_and_one_too_late_does(self) -> None:
        assert self.told((0, "passed", 365), (300, "passed", 665)) == [(665, None, "out_of_calibration", 665)]
        assert self.told((0, "passed", 365), (365, "passed", 730)) == [(730, None, "out_of_calibration", 730)]
        late = self.told((0, "passed", 365), (400, "passed", 765))
        assert late == [(365, 400, "out_of_calibration", 365), (765, None, "out_of_calibration", 765)]

    def test_one_that_failed_as_found_doubts_everything_since_the_last_good_one(self) -> None:
        """ISO 9001:2015, 7.1.5.2, from memory: whether earlier results are still valid when equipment is found unfit."""
        assert self.told((0, "passed", 365), (300, "failed", 665)) == [(0, None, "failed_calibration", 300)]
        mended = self.told((0, "passed", 365), (300, "failed", 665), (310, "passed", 675))
        assert mended == [(0, 310, "failed_calibration", 300), (675, None, "out_of_calibration", 675)]

    def test_the_first_of_two_failures_is_the_one_that_told(self) -> None:
        twice = self.told((0, "passed", 365), (300, "failed", 365), (320, "failed", 365))
        assert twice == [(0, None, "failed_calibration", 300)]

    def test_without_a_good_one_the_doubt_goes_back_for_ever(self) -> None:
        assert self.told((300, "failed", 665)) == [(None, None, "failed_calibration", 300)]
        assert self.told((300, "failed", 665), (310, "passed", 675))[0] == (None, 310, "failed_calibration", 300)


def test_a_mask_leaves_the_values_that_belong_to_the_times() -> None:
    whole = series(lambda minutes: minutes, 0, 10, period_s=60)
    less = believable(whole, [fault(3, 6)])
    np.testing.assert_allclose(less.values, (less.times - at(0)) / MINUTE)
