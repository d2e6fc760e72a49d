"""The broker killed with SIGKILL, with persistence on and saved every second: at most two seconds of the stream are lost.

What Mosquitto had said that it keeps, and hadn't saved yet, is gone with it; no logger can change that. What the logger had
acknowledged is in the store. When the broker forgot the whole session, the journal has the gap.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from booth.times import parse_time
from tests.broker import MosquittoBroker
from tests.faults.child import Child, subscribed
from tests.faults.compare import keys, missing, problems, session_losses
from tests.faults.plant import Message, Publisher, reading

RATE = 150  # readings a second
AT_MOST_LOST = 2 * RATE  # two seconds of the stream, by number: a busy machine may send them more slowly
SAVED_AFTER_S = 2.5  # the broker saves every second

pytestmark = pytest.mark.xdist_group("killed broker")


@pytest.fixture
def child(mosquitto: MosquittoBroker, tmp_path: Path) -> Iterator[Child]:
    """A running logger whose session the broker has saved."""
    one = Child(mosquitto, tmp_path).start()
    try:
        one.wait(lambda: subscribed(mosquitto), "the subscription")
        time.sleep(SAVED_AFTER_S)
        yield one
    finally:
        one.kill()


def stream(plant: Publisher, seconds: float) -> None:
    begun, first = time.monotonic(), len(plant.sent)
    for number in range(round(seconds * RATE)):
        plant.send([reading(first + number)])
        time.sleep(max(0.0, begun + number / RATE - time.monotonic()))


def forget_everything(broker: MosquittoBroker) -> None:
    broker.kill()
    (broker.log.parent / "mosquitto.db").unlink()
    broker.start()


@pytest.mark.parametrize("online", [True, False], ids=["logger online", "logger offline"])
def test_at_most_two_seconds_are_lost(online: bool, child: Child, mosquitto: MosquittoBroker) -> None:
    seed = random.SystemRandom().randrange(2**31)
    chance, sent_at_death = random.Random(seed), []
    print(f"the same moments again: seed {seed}")
    if not online:
        assert child.stop() == 0
    with Publisher(mosquitto) as plant:
        for _ in range(2):
            stream(plant, chance.uniform(1.5, 2.5))
            sent_at_death.append(len(plant.sent))
            mosquitto.restart()
        stream(plant, 1)
        child.wait(lambda: plant.is_done, "the broker's taking over")
        if not online:
            child.start()
        child.wait(lambda: last_is_kept(child, plant), "that the end of the stream is kept")
        sent = plant.sent
    assert child.stop() == 0
    assert problems(child.store, keys(sent), set()) == []
    lost = {keys_of for message in missing(child.store, sent) for keys_of in keys([message])}
    numbers = [number for number, message in enumerate(sent) if keys([message]) & lost]
    print(f"{len(numbers)} of {len(sent)} lost")
    assert all(any(death - AT_MOST_LOST <= number < death for death in sent_at_death) for number in numbers), numbers
    assert session_losses(child.store) == []


def last_is_kept(child: Child, plant: Publisher) -> bool:
    return not missing(child.store, plant.sent[-1:])


def test_a_session_lost_under_a_running_logger_is_a_gap(child: Child, mosquitto: MosquittoBroker) -> None:
    with Publisher(mosquitto) as plant:
        stream(plant, 1)
        child.wait(lambda: last_is_kept(child, plant), "that the stream is kept")
        before = plant.sent[-1]
        forget_everything(mosquitto)
        child.wait(lambda: session_losses(child.store), "the gap in the journal")
        child.wait(lambda: mosquitto.log.read_text().count("Sending SUBACK to tern-valley-booth-logger") > 1, "subscribing")
        plant.send([after := reading(9999)])
        child.wait(lambda: not missing(child.store, [after]), "that what comes after is kept")
    [(since, until)] = session_losses(child.store)
    assert moment(before) <= since + 1_000_000 and since <= until <= moment(after)
    assert child.stop() == 0
    assert problems(child.store, keys(plant.sent), keys(plant.taken)) == []


def test_a_session_lost_while_the_logger_was_away_is_a_gap(child: Child, mosquitto: MosquittoBroker) -> None:
    with Publisher(mosquitto) as plant:
        stream(plant, 1)
        child.wait(lambda: last_is_kept(child, plant), "that the stream is kept")
        assert child.stop() == 0
        heard = plant.sent
        forget_everything(mosquitto)
        stream(plant, 1)  # nobody's queue takes this
        child.wait(lambda: plant.is_done, "the broker's taking over")
        child.start()
        child.wait(lambda: session_losses(child.store), "the gap in the journal")
    assert child.stop() == 0
    lost = missing(child.store, plant.sent)
    assert lost == plant.sent[len(heard) :]
    [(since, until)] = session_losses(child.store)
    assert moment(heard[-1]) <= since <= moment(lost[0]) <= moment(lost[-1]) <= until


def moment(message: Message) -> int:
    return parse_time(message.body["time"])
