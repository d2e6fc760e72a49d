"""Killed with SIGKILL at random moments, twenty times: nothing lost, nothing doubled, the chain whole, the findings the same.

`make soak` does the same two hundred times.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.broker import MosquittoBroker
from tests.faults.compare import findings
from tests.faults.killing import episode, undisturbed

KILLS = 10


@pytest.fixture(scope="module")
def expected(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple]:
    found = undisturbed(tmp_path_factory.mktemp("undisturbed"))
    assert len(found) > 15  # a comparison of nothing with nothing would pass
    return found


@pytest.mark.parametrize("half", [pytest.param(n, marks=pytest.mark.xdist_group(f"killed logger {n}")) for n in (1, 2)])
def test_ten_deaths_at_random_moments(half: int, mosquitto: MosquittoBroker, tmp_path: Path, expected: dict) -> None:
    seed = random.SystemRandom().randrange(2**31)
    print(f"the same moments again: seed {seed}")  # pytest shows it where the test fails
    assert episode(mosquitto, tmp_path, KILLS, seed) == []
    assert findings(tmp_path / "store") == expected
