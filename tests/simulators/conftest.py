"""One whole demo shift, simulated once for all tests of a worker."""

from __future__ import annotations

import json
import time
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

import pytest

from simulators.plant import Plant
from simulators.tern_valley import TERN_VALLEY
from simulators.truth import Truth

SEED = 1


@dataclass
class Shift:
    """`readings` and `events` in the order sent, `truth` as written to the file, `digest` of every byte sent."""

    readings: list[tuple[int, str, dict]]  # (tick, topic, payload)
    events: list[tuple[int, str, dict]]
    truth: dict[str, Any]
    digest: str
    cpu_s: float


def simulate(seed: int) -> Shift:
    begun = time.process_time()
    plant = Plant(seed, TERN_VALLEY)
    truth = Truth(plant)
    digest = sha256()
    readings, events = [], []
    for tick, messages in plant.messages():
        truth.record()
        for topic, payload in messages:
            digest.update(f"{topic} {json.dumps(payload)}\n".encode())
            (events if topic.endswith("/event") else readings).append((tick, topic, payload))
    document = json.loads(json.dumps(truth.document()))
    return Shift(readings, events, document, digest.hexdigest(), time.process_time() - begun)


@pytest.fixture(scope="session")
def shift() -> Shift:
    return simulate(SEED)
