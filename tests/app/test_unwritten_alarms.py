"""While the disk refuses every write, a missed bake window is told all the same, and is in the journal once there is space."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from plants import CONFIG, Ears, demo_shop, received

from booth.clocks import TickClock
from booth.logger import Logger
from booth.rehearsal.play import _moments
from booth.rehearsal.script import read_scripts
from booth.store import Store, StoreError
from booth.times import MINUTE

ALARM = "REHEARSAL/1/bake/bake_start"


@contextmanager
def full_disk(store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    def refused(*_: object) -> None:
        raise StoreError("the disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(store.journal, "append", refused)
        patch.setattr(store.readings, "append", refused)
        yield


def heard(ears: Ears) -> list[tuple[str, str]]:
    return [(body["priority"], body["state"]) for _, body in ears.heard if body["alarm"] == ALARM]


def test_an_alarm_goes_out_while_the_disk_is_full(monkeypatch: pytest.MonkeyPatch) -> None:
    shop, ears, clock = demo_shop(), Ears(), TickClock()
    script = next(one for one in read_scripts(CONFIG / "rehearsals/two-pack-clear.toml", shop) if "4 min late" in one.case.name)
    full_from, full_until = script.begins + 158 * MINUTE, script.begins + 167 * MINUTE
    with Store.in_memory() as store:
        logger = Logger(shop, store, clock, [ears])
        for now, messages in _moments(script, shop, []):
            if now > full_until:
                break
            clock.set(now)
            logger.watch  # noqa: B018 -- made when the clock is known
            if now <= full_from:
                logger.handle([received(topic, body, now) for _, topic, body in messages], now, lambda _message: None)
                logger._look_safely(now)
                continue
            with full_disk(store, monkeypatch):
                logger._look_safely(now)
        assert heard(ears) == [("warning", "unacknowledged"), ("alarm", "unacknowledged")]
        assert not [one for one in store.journal.entries(kinds=["alarm"]) if one.body["alarm"] == ALARM]
        logger._look_safely(clock.now())
        states = [one.body["to"] for one in store.journal.entries(kinds=["alarm"]) if one.body["alarm"] == ALARM]
        assert states and states[-1] == "unacknowledged"
    assert {state for _, state in heard(ears)} == {"unacknowledged"}


def test_what_was_told_and_turned_out_otherwise_is_taken_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bake had begun in time; only its readings could not be kept until there was space."""
    shop, ears, clock = demo_shop(), Ears(), TickClock()
    script = next(one for one in read_scripts(CONFIG / "rehearsals/standard.toml", shop) if one.case.name == "everything good")
    full_from, full_until = script.begins + 149 * MINUTE, script.begins + 167 * MINUTE
    with Store.in_memory() as store:
        logger = Logger(shop, store, clock, [ears])
        kept_back: list[tuple] = []
        for now, messages in _moments(script, shop, []):
            if now > full_until:
                break
            clock.set(now)
            logger.watch  # noqa: B018 -- made when the clock is known
            batch = [*kept_back, *messages] if now <= full_from else []
            kept_back = [] if now <= full_from else [*kept_back, *messages]
            if batch:
                logger.handle([received(topic, body, now) for _, topic, body in batch], now, lambda _message: None)
            if now <= full_from:
                logger._look_safely(now)
                continue
            with full_disk(store, monkeypatch):
                logger._look_safely(now)
        assert ("alarm", "unacknowledged") in heard(ears)
        now = clock.now()
        logger.handle([received(topic, body, now) for _, topic, body in kept_back], now, lambda _message: None)
        logger._look_safely(now)
        assert heard(ears)[-1][1] == "normal"
