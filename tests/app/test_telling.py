"""Steps that nobody entered, told by the instruments of the booth that the van stood in."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from plants import demo_shop
from stage import Stage, at, open_job, spray, van

from booth.judge.facts import Job, Place, Round
from booth.stays import stays, stays_of_all_rounds
from booth.store import Store


def wet(stage: Stage, vehicle: str = "V-1") -> None:
    """One coat, the last before the bake."""
    stage.say(0, "step-start", vehicle=vehicle, step="clear-2")
    stage.say(300, "step-end", vehicle=vehicle, step="clear-2")


def modes(stage: Stage, *story: tuple[int, int, str], every: int = 5, booth: str = "south") -> None:
    for first, past, word in story:
        for second in range(first, past, every):
            stage.measure(second, booth, mode=word)
            stage.look(second)


def test_purge_bake_and_cool_come_from_the_mode(stage: Stage) -> None:
    open_job(stage)
    wet(stage)
    modes(stage, (900, 1000, "flash"), (1000, 1100, "purge"), (1100, 1300, "bake"), (1300, 1400, "cool"), (1400, 1500, "idle"))
    assert stage.told() == [
        ("signalled", "step-start", "purge", 1000),
        ("signalled", "step-end", "purge", 1100),
        ("signalled", "step-start", "bake", 1100),
        ("signalled", "step-end", "bake", 1300),
        ("signalled", "step-start", "cool", 1300),
        ("signalled", "step-end", "cool", 1400),
    ]


def test_a_van_in_no_booth_does_nothing(stage: Stage) -> None:
    open_job(stage, loaded=False)
    wet(stage)
    modes(stage, (1000, 1200, "bake"))
    assert stage.told() == []


def test_a_load_entered_anew_doesnt_cut_the_bake(stage: Stage) -> None:
    """A probe is added in the middle."""
    open_job(stage)
    wet(stage)
    modes(stage, (900, 1000, "flash"), (1000, 1200, "bake"))
    stage.say(1200, "load", vans=[van(part_1="lower", part_2="sills")])
    modes(stage, (1200, 1500, "bake"), (1500, 1600, "cool"))
    assert [one for one in stage.told() if one[2] == "bake"] == [
        ("signalled", "step-start", "bake", 1000),
        ("signalled", "step-end", "bake", 1500),
    ]


def test_a_van_that_was_loaded_elsewhere_has_left(stage: Stage) -> None:
    """The south booth's load still names it; what that booth does then isn't this van's."""
    open_job(stage)
    wet(stage)
    stage.say(400, "load", "north", vans=[van(part_1="lower")])
    modes(stage, (900, 1000, "flash"), (1000, 1200, "bake"))
    assert stage.told() == []
    modes(stage, (1200, 1300, "bake"), (1300, 1400, "cool"), booth="north")
    assert ("signalled", "step-end", "bake", 1300) in stage.told()


def test_a_mode_from_before_the_van_came_isnt_its_own(stage: Stage) -> None:
    stage.say(-50, "job-open", vehicle="V-1", process="standard")
    wet(stage)
    modes(stage, (900, 1000, "bake"))
    stage.say(1000, "load", vans=[van()])
    modes(stage, (1000, 1100, "bake"), (1100, 1200, "cool"), (1200, 1300, "idle"))
    assert {one[2] for one in stage.told()} == {"cool"}


def test_an_oven_is_hot_before_the_van_comes(tmp_path: Path) -> None:
    shop = demo_shop()
    south = shop.booths["south"].model_copy(update={"kind": "oven"})
    changed = type(shop)(**(vars(shop) | {"booths": {**shop.booths, "south": south}}))
    with Store.open(tmp_path, writer=True) as store:
        stage = Stage(store, changed)
        stage.say(-50, "job-open", vehicle="V-1", process="standard")
        wet(stage)
        modes(stage, (900, 1000, "bake"))
        stage.say(1002, "load", vans=[van()])
        modes(stage, (1005, 1200, "bake"))
        assert stage.told() == [("signalled", "step-start", "bake", 1002)]


def test_what_goes_on_when_the_van_leaves_ends_then(stage: Stage) -> None:
    open_job(stage)
    wet(stage)
    modes(stage, (900, 1000, "flash"), (1000, 1200, "bake"))
    stage.say(1200, "load", vans=[])
    modes(stage, (1200, 1400, "bake"))
    assert stage.told()[-1] == ("signalled", "step-end", "bake", 1200)
    assert len(stage.told()) == 2


def test_a_load_before_the_job_was_opened_counts(stage: Stage) -> None:
    stage.say(-50, "load", vans=[van()])
    stage.say(-40, "job-open", vehicle="V-1", process="standard")
    wet(stage)
    modes(stage, (900, 1000, "flash"), (1000, 1200, "bake"))
    assert stage.told() == [("signalled", "step-start", "bake", 1000)]


def test_a_coat_that_nobody_entered_comes_from_the_guns(stage: Stage) -> None:
    open_job(stage)
    spray(stage, (0, 10), (300, 500), (560, 700), until=1000)
    assert stage.told() == [("inferred", "step-start", "sealer", 300), ("inferred", "step-end", "sealer", 700)]


def test_with_two_vans_in_a_booth_spraying_never_decides_which(stage: Stage) -> None:
    open_job(stage)
    stage.say(-45, "job-open", vehicle="V-2", process="standard")
    stage.say(-40, "load", vans=[van(), {"vehicle": "V-2", "guns": ["gun-2"]}])
    spray(stage, (0, 300), until=600)
    assert stage.told() == []


def test_a_forgotten_end_is_told_when_the_van_has_left(stage: Stage) -> None:
    open_job(stage)
    stage.say(0, "step-start", vehicle="V-1", step="clear-2")
    spray(stage, (0, 300), until=350)
    stage.say(350, "load", vans=[])
    for second in range(355, 500, 5):
        stage.look(second)
    assert ("inferred", "step-end", "clear-2", 300) in stage.told()


def test_a_restart_tells_nothing_twice(stage: Stage) -> None:
    open_job(stage)
    wet(stage)
    for first in range(900, 1500, 50):
        modes(stage, (first, first + 50, "bake" if 1000 <= first < 1300 else "flash"))
        stage.restart()
    assert [one[1:] for one in stage.told()] == [("step-start", "bake", 1000), ("step-end", "bake", 1300)]


def job(places: list[Place], opened: float = 0, number: int = 1) -> Job:
    rounds = tuple(Round(one, at(opened), None, None, (), (), ()) for one in range(1, number + 1))
    return Job("V-1", "standard", None, at(opened), None, rounds, tuple(places), ())


def place(booth: str, start: float, end: float | None, alone: bool = True) -> Place:
    return Place(booth, at(start), None if end is None else at(end), (), {}, alone)


def test_stays() -> None:
    one, two = stays(job([place("south", 0, 100), place("south", 100, 200, alone=False), place("north", 150, None)]))
    assert (one.booth, one.start, one.end, one.alone) == ("south", at(0), at(150), ((at(0), at(100)),))
    assert (two.booth, two.start, two.end) == ("north", at(150), None)
    assert stays(job([place("south", 0, 50), place("south", 60, None)]))[1].start == at(60)
    again = stays(job([place("south", 0, 50), place("south", 60, None)], opened=70, number=2))
    assert [(stay.start, stay.end) for stay in again] == [(at(70), None)]
    assert stays(job([])) == []


def test_stays_of_all_rounds() -> None:
    """A van that stands there while it is reopened stood there in both."""
    opened = [Round(1, at(0), at(60), None, (), (), ()), Round(2, at(70), None, None, (), (), ())]
    twice = replace(job([place("south", -10, 50), place("south", 55, None)]), rounds=tuple(opened))
    found = [(then.round.number, stay.start, stay.end, stay.is_alone_throughout) for then, stay in stays_of_all_rounds(twice)]
    assert found == [(1, at(-10), at(50), True), (1, at(55), at(70), True), (2, at(70), None, True)]
    shared = job([place("south", 0, 100), place("south", 100, None, alone=False)])
    assert [stay.is_alone_throughout for _, stay in stays_of_all_rounds(shared)] == [False]
