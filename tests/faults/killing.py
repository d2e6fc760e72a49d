"""An episode: one store, one story, and a logger that is killed again and again at random moments while it takes the story in."""

from __future__ import annotations

import random
import time
from pathlib import Path

from booth.store import Store
from booth.times import parse_time
from tests.app.plants import play
from tests.broker import MosquittoBroker
from tests.faults.child import Child, subscribed
from tests.faults.compare import findings, keys, problems
from tests.faults.plant import Message, Publisher, story

START_UP_S = 1.0  # about what a start takes: some are killed in it
AT_WORK_S = 0.7


def undisturbed(folder: Path) -> dict[str, tuple]:
    """The findings when nothing goes wrong, without any broker or second process."""
    batches, batch = [], []
    for message in story():
        if message.is_reading or message.is_event:
            batch.append((message.topic, message.body))
        else:
            batches.append((parse_time(message.body["time"]), batch))
            batch = []
    with Store.open(folder, writer=True) as store:
        play(store, batches)
    return findings(folder)


def episode(broker: MosquittoBroker, folder: Path, kills: int, seed: int) -> list[str]:
    """Kill a logger `kills` times, each time at a part of the story of its own; checked after each. Returns what went wrong."""
    chance, messages = random.Random(seed), story()
    sent, child, wrong = keys(messages), Child(broker, folder, clock="tick"), []
    child.start()
    try:
        child.wait(lambda: subscribed(broker), "the subscription")
        with Publisher(broker) as plant:
            for number in range(kills):
                plant.send(_part(messages, number, kills))
                _wait_a_random_moment(child, chance)
                child.kill()
                wrong += [f"after death {number + 1}: {one}" for one in problems(child.store, sent, set())]
                child.start()
            child.wait(lambda: plant.is_done, "the broker's taking over")
            child.wait(lambda: _has(child.store, messages[-1]), "the end of the story")
            child.wait_running()  # else the story was whole before the last death, and the one to be stopped has hardly begun
            taken = keys(plant.taken)
        if child.stop() != 0:
            wrong.append(f"it couldn't be stopped: {child.said[-500:]}")
    finally:
        child.kill()
    assert len(taken) == len(sent) > 1000, "the broker took less than was sent; nothing would be shown"
    return wrong + problems(child.store, sent, taken)


def _part(messages: tuple[Message, ...], number: int, of: int) -> tuple[Message, ...]:
    return messages[number * len(messages) // of : (number + 1) * len(messages) // of]


def _wait_a_random_moment(child: Child, chance: random.Random) -> None:
    """One in four dies somewhere in its start, the others while they work."""
    if chance.random() < 0.25:
        time.sleep(chance.uniform(0, START_UP_S))
    else:
        child.wait_running()
        time.sleep(chance.uniform(0.1, AT_WORK_S))


def _has(folder: Path, last: Message) -> bool:
    """Whether the store has come to the last tick of the story."""
    with Store.open(folder) as store:
        newest = [store.readings.latest(held.point) for held in store.readings.held()]
        return max((one.time for one in newest), default=0) >= parse_time(last.body["time"])
