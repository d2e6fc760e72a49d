"""Spraying among several vans at the board: under each van the coat that it would be, and that it was none."""

from __future__ import annotations

import json
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from booth.shop.events import read_event
from booth.store import Store
from booth.web.painter.booth_page import _events
from booth.web.painter.view import view
from booth.web.painter.words import words
from tests.web.booth_scenes import SCENES, Play, at


@pytest.fixture
def shown(tmp_path: Path) -> dict:
    with Store.open(tmp_path, writer=True) as store, Store.open(tmp_path) as other:
        play = Play(store)
        SCENES["whose"](play)
        return view(play.eyes(other).follow()["south"], words("en", "metric"), ZoneInfo("UTC"))


class _Board:
    """All that a touch needs of a board: a store to look into, and what time it is."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def store(self) -> Store:
        return Store.open(self._folder)

    def moment(self, store: Store) -> int:
        return at(1500)


def test_the_notice_says_what_is_asked(shown: dict) -> None:
    notices = [*shown["notices"], *shown["folded"]]
    assert [one["phrase"] for one in notices if one["vehicle"] is None] == ["Sprayed, and nobody said which van"]


def test_each_van_is_offered_the_coat_that_it_would_be(shown: dict) -> None:
    """One has had its base coat entered, the other has had nothing yet."""
    offered = {van["vehicle"]: [one["word"] for one in van["confirm"]] for van in shown["vans"]}
    assert offered == {"TV-4117": ["Confirm clear-1, 12:09–12:19"], "TV-4121": ["Confirm sealer, 12:09–12:19"]}


def test_a_touch_is_the_coat_of_that_van(shown: dict, tmp_path: Path) -> None:
    (button,) = shown["vans"][1]["confirm"]
    events = _events(_Board(tmp_path), "south", button["value"])
    read = [read_event(one, "south", at(1500)) for one in events]
    assert [(one.kind, one.body["vehicle"], one.body["step"], one.time) for one in read] == [
        ("step-start", "TV-4121", "sealer", at(540)),
        ("step-end", "TV-4121", "sealer", at(1140)),
    ]


def test_or_it_was_no_coat_of_any(shown: dict, tmp_path: Path) -> None:
    values = [_events(_Board(tmp_path), "south", van["confirm"][0]["not"]) for van in shown["vans"]]
    ids = {one["id"] for (one,) in values}
    assert len(ids) == 1  # touched under either van it is the same word
    event = read_event(values[0][0], "south", at(1500))
    assert (event.kind, event.body) == (
        "not-a-coat",
        {"booth": "south", "from": "2026-07-13T12:09:00.000Z", "to": "2026-07-13T12:19:00.000Z"},
    )
    going_on = json.dumps({"not_a_coat": "sealer", "vehicle": "TV-4121", "start": at(540), "end": None, "asked": True})
    (until_now,) = _events(_Board(tmp_path), "south", going_on)
    assert until_now["to"] == "2026-07-13T12:25:00.000Z"
