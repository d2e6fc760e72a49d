"""A stage over an empty store."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from stage import Stage

from booth.store import Store


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Store.open(tmp_path, writer=True) as store:
        yield Stage(store)
