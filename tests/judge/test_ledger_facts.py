"""What else the journal says beside steps: films, checks, what people said, where a van stood, calibrations."""

from __future__ import annotations

from booth.judge.course import course
from booth.judge.facts import Check, Film
from booth.judge.ledger import Ledger
from booth.times import format_time
from tests.judge.made_up import at
from tests.judge.test_ledger import van


def test_film_and_checks_with_who_and_when() -> None:
    made = van()
    made.tell("film", 30, step="clear-1", zone="roof", value="118 um", gauge="FD-N", by="badge-31")
    made.tell("film", 31, step="clear-1", value="121 um", gauge="FD-N", by="badge-31")
    made.tell("check", 32, check="inspect", result="passed", values={"gloss": "88"}, by="badge-18")
    made.tell("check", 33, check="mask", result="failed", by="badge-18")
    assert made.job().round.films == (
        Film("clear-1", "roof", "118 um", "FD-N", at(30), "badge-31"),
        Film("clear-1", None, "121 um", "FD-N", at(31), "badge-31"),
    )
    assert made.job().round.checks == (
        Check("inspect", "passed", at(32), "badge-18", {"gloss": "88"}),
        Check("mask", "failed", at(33), "badge-18", {}),
    )


def test_what_people_said() -> None:
    made = van()
    made.tell("note", 20, text="a gnat in the roof")
    made.tell("concession", 21, requirement="clear-1/relative_humidity", reason="dry by hand", by="badge-3")
    made.tell("release", 22, reason="looks well", by="badge-3")
    assert [(one.kind, one.time, one.by, one.text, one.about) for one in made.job().sayings] == [
        ("note", at(20), "badge-17", "a gnat in the roof", None),
        ("concession", at(21), "badge-3", "dry by hand", "clear-1/relative_humidity"),
        ("release", at(22), "badge-3", "looks well", None),
    ]


def test_a_corrected_load_is_among_the_corrections_of_the_van_that_stood_in_it() -> None:
    made = van()
    load = made.tell("load", -5, vans=[{"vehicle": "TV-9"}])
    other = made.tell("load", -4, booth="south", vans=[{"vehicle": "TV-8"}])
    made.tell("correction", 5, corrects=load, set={"vans": [{"vehicle": "TV-1"}]}, reason="misread")
    made.tell("correction", 6, corrects=other, set={"vans": [{"vehicle": "TV-7"}]}, reason="misread")
    assert [(one.kind, one.about) for one in made.job().sayings] == [("correction", load)]


def test_where_a_van_stood() -> None:
    """From the load that names it to the booth's next one; the moment itself belongs to what comes."""
    made = van()
    made.tell("load", -5, vans=[{"vehicle": "TV-1"}, {"vehicle": "TV-2"}])
    made.tell("load", 20, vans=[{"vehicle": "TV-2"}])
    assert [(one.booth, one.start, one.end, one.alone) for one in made.job().places] == [("north", at(-5), at(20), False)]
    for minute, booth in ((-5, "north"), (19, "north"), (20, None), (30, None), (-6, None)):
        made.tell("step-start", minute, step="sealer", booth="")
        assert course(made.job(), made.job().round, made.shop.processes["standard"])["sealer"].booth == booth, minute
        made.forget("step-start")


def test_calibrations_as_they_were_known() -> None:
    made = van()
    made.tell("calibration", 0, point="humidity", result="passed", valid_until=format_time(at(100)))
    made.tell("calibration", 50, point="humidity", result="failed", valid_until=format_time(at(100)))
    ledger = Ledger(made.entries)
    assert [one.result for one in ledger.calibrations("north/humidity")] == ["passed", "failed"]
    assert ledger.calibrations("north/air-temperature") == []
    assert [(one.start, one.fault) for one in ledger.unhealthy("north/humidity")] == [(at(0), "failed_calibration")]
    assert ledger.watched_points == ["north/humidity"]
