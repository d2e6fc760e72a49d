"""What a van was given stays claimed when its job is closed or opened once more, and what is long past costs nothing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from plants import demo_shop
from stage import Stage, at, open_job, spray, two_vans, van

from booth.asking import Asker
from booth.judge.ledger import Ledger
from booth.judge.series import Series
from booth.live_jobs import Open
from booth.live_readings import LiveReadings
from booth.looker import Looker
from booth.store import Store
from booth.store.readings import Readings
from booth.telling import tell_past
from booth.times import DAY, HOUR, SECOND, format_time

COAT, LATER = (0, 600), (2400, 3000)
TOLD = [("inferred", "step-start", "sealer", 2400), ("inferred", "step-end", "sealer", 3000)]


@pytest.fixture
def stage(stage: Stage) -> Stage:
    two_vans(stage)
    return stage


def asked(stage: Stage) -> list[str]:
    """Beginnings of the spells that were ever asked about."""
    return [name.rsplit("/", 1)[1] for name, state, _, _ in stage.alarms("whose_coat") if state == "unacknowledged"]


def when(*seconds: float) -> list[str]:
    return [format_time(at(second)) for second in seconds]


def coat(stage: Stage, span: tuple[int, int], vehicle: str = "V-1", until: int = 900) -> None:
    """One that somebody entered."""
    stage.say(span[0], "step-start", vehicle=vehicle, step="sealer")
    spray(stage, span, since=span[0], until=span[1])
    stage.say(span[1], "step-end", vehicle=vehicle, step="sealer")
    spray(stage, since=span[1], until=until)


def leaves(stage: Stage, second: float) -> None:
    """V-1's job is closed and V-2 stays alone."""
    stage.say(second, "job-close", vehicle="V-1")
    stage.say(second, "load", vans=[van("V-2")])


@pytest.mark.parametrize("between", ["", "restart", "reopen"])
def test_what_a_closed_van_was_given_is_no_question_about_the_other(stage: Stage, between: str) -> None:
    coat(stage, COAT)
    leaves(stage, 900)
    spray(stage, since=900, until=1800)  # more than ten minutes, after which nothing more is done about V-1
    if between == "restart":
        stage.restart()
    elif between == "reopen":
        stage.say(1800, "reopen", vehicle="V-1", reason="a run in the sealer")
    spray(stage, LATER, since=1800, until=3600)
    assert asked(stage) == [] and stage.told() == TOLD


def test_the_page_of_what_is_open_asks_no_more_than_the_logger(stage: Stage) -> None:
    """It knows the jobs that are open, and the journal."""
    coat(stage, COAT)
    leaves(stage, 900)
    spray(stage, since=900, until=1000)
    ledger = Ledger(stage.store.journal.entries())
    asker = Asker(stage.shop, ledger, stage.store.readings)
    assert asker.unclaimed([Open(ledger.job("V-2"), stage.shop)], at(1800)) == []


def test_what_nobody_entered_is_asked_for_as_long_as_one_of_them_is_open(stage: Stage) -> None:
    spray(stage, COAT, until=900)
    leaves(stage, 900)
    spray(stage, LATER, since=900, until=3600)
    assert asked(stage) == when(0, 2400) and stage.told() == []
    standing = [alarm for alarm in stage.watch.book.standing().values() if alarm.condition.requirement == "whose_coat"]
    assert len(standing) == 2 and "V-1, V-2" in standing[0].condition.sentence


def test_a_van_that_is_closed_is_not_told_what_it_was_asked(stage: Stage) -> None:
    """Closing answers nothing: which of its coats the lone one was is still not known."""
    strokes = (COAT, (1200, 1800))
    spray(stage, *strokes, until=900)
    stage.say(900, "load", vans=[van()])
    spray(stage, *strokes, since=900, until=1700)
    for vehicle in ("V-1", "V-2"):
        stage.say(1850, "job-close", vehicle=vehicle)
    spray(stage, *strokes, since=1700, until=2300)
    assert stage.told() == []


def test_a_doubtful_van_is_asked_when_it_has_left_and_come_again(stage: Stage) -> None:
    """Nothing is told of it any more, so what it is given alone would else be lost in silence."""
    strokes = (COAT, LATER)
    spray(stage, *strokes, until=900)
    stage.say(900, "load", vans=[])
    spray(stage, *strokes, since=900, until=1500)
    stage.say(1500, "load", vans=[van()])
    spray(stage, *strokes, since=1500, until=3600)
    assert asked(stage) == when(0, 2400) and stage.told() == []


def test_a_forgotten_end_from_before_the_other_came_claims_nothing_beside_it(stage: Stage) -> None:
    """The open coat had its own spell, though the van that is still open never saw it."""
    stage.say(0, "load", vans=[van()])
    stage.say(60, "step-start", vehicle="V-1", step="sealer")
    strokes = ((60, 660), (1200, 1800))
    spray(stage, *strokes, since=0, until=900)
    stage.say(900, "load", vans=[van(), {"vehicle": "V-2"}])
    spray(stage, *strokes, since=900, until=1900)
    leaves(stage, 1900)
    spray(stage, since=1900, until=3000)
    assert asked(stage) == when(1200)


def test_a_forgotten_end_from_an_earlier_stay_claims_nothing_in_a_later_one(stage: Stage) -> None:
    open_job(stage, vehicle="V-3", loaded=False)
    stage.say(0, "step-start", vehicle="V-1", step="sealer")
    strokes = (COAT, (1800, 2400))
    spray(stage, *strokes, until=900)
    stage.say(900, "load", vans=[van("V-2")])
    spray(stage, *strokes, since=900, until=1500)
    stage.say(1500, "load", vans=[van(), {"vehicle": "V-3"}])
    spray(stage, *strokes, since=1500, until=2600)
    assert asked(stage) == when(1800)


def test_what_is_sprayed_after_a_round_was_closed_is_not_its_forgotten_coat(stage: Stage) -> None:
    stage.say(0, "step-start", vehicle="V-1", step="sealer")
    spray(stage, until=300)
    stage.say(300, "job-close", vehicle="V-1")
    spray(stage, (1200, 1800), since=300, until=1900)
    assert asked(stage) == when(1200)


def test_a_van_that_comes_again_is_asked_of_the_round_that_it_was_in(stage: Stage) -> None:
    spray(stage, COAT, until=900)
    leaves(stage, 900)
    stage.say(1000, "reopen", vehicle="V-1", reason="a run in the sealer")
    stage.say(1100, "load", "north", vans=[van("V-1")])
    spray(stage, since=900, until=1300)
    ledger = Ledger(stage.store.journal.entries())
    jobs = [Open(ledger.job(vehicle), stage.shop) for vehicle in ("V-1", "V-2")]
    asker = Asker(stage.shop, ledger, stage.store.readings)
    (one,) = asker.unclaimed(jobs, at(1300))
    assert (one.start, one.coats) == (at(0), {"V-1": "sealer", "V-2": "sealer"})
    assert asker.doubtful_since(jobs, at(1300)) == {"V-2": at(0)}, "the second round begins anew"


class Heard:
    """Readings that remember what of the guns they were asked for."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, of: type) -> None:
        self.spans: list[tuple[int, int]] = []
        ask = of.evidence

        def evidence(readings: object, point: str, start: int, end: int, *rest: object, **more: object) -> Series:
            if point == "south/gun-1":
                self.spans.append((start, end))
            return ask(readings, point, start, end, *rest, **more)

        monkeypatch.setattr(of, "evidence", evidence)


def pairs(stage: Stage, days: int) -> None:
    """Two vans a day, one load following on the other, all closed; then the two that are in the booth now."""
    for day in range(days + 1):
        second, names = day * DAY // SECOND, [f"A-{day}", f"B-{day}"]
        for name in names:
            stage.say(second, "job-open", vehicle=name, process="standard")
        stage.say(second + 10, "load", vans=[{"vehicle": name} for name in names])
        stage.measure(second + 20, gun_1=0)
        for name in names if day < days else ():
            stage.say(second + 3600, "job-close", vehicle=name)


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Stage]:
    with Store.open(tmp_path, writer=True) as store:
        yield Stage(store)


def test_a_start_reads_nothing_of_what_is_closed(empty: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    pairs(empty, days=20)
    now = 20 * DAY // SECOND + 600
    heard = Heard(monkeypatch, LiveReadings)
    looker = Looker(empty.shop, empty.store, at(now))
    for moment in (now, now + 5):
        looker.see(at(moment))
        assert heard.spans and min(start for start, _ in heard.spans) >= at(now) - HOUR
        heard.spans.clear()


def test_telling_the_past_reads_each_stay_a_few_times(empty: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    pairs(empty, days=20)
    heard = Heard(monkeypatch, Readings)
    tell_past(demo_shop(), empty.store, at(20 * DAY // SECOND + 600), at(20 * DAY // SECOND + 600))
    assert len(heard.spans) <= 42 * 4
    assert max(end - start for start, end in heard.spans) <= 25 * HOUR


def test_the_past_tells_nothing_of_vans_that_stood_together(stage: Stage) -> None:
    """Nor of one that was alone afterwards: which coat it was depends on an answer that nobody gave."""
    spells = (COAT, LATER)
    for second in range(-30, 3600, 5):
        stage.measure(second, air_velocity=0.5, gun_1=300 if any(first <= second < past for first, past in spells) else 0)
    stage.say(900, "load", vans=[van()], now=3600)
    for vehicle in ("V-1", "V-2"):
        stage.say(3600, "job-close", vehicle=vehicle)
    tell_past(stage.shop, stage.store, at(3600), at(7200))
    assert stage.told() == []
