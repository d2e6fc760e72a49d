"""Fixtures for all tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.broker import MosquittoBroker

# Speed is shown by benchmarks, never by timed tests: a busy machine must not turn a test red.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[MosquittoBroker]:
    """A real broker of this test's own. Without one the test fails: what it promises would be unproven."""
    folder = tmp_path / "broker"
    folder.mkdir()
    broker = MosquittoBroker(folder)
    yield broker.start()
    broker.stop()
