"""Published check values, one call away."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

DATA = Path(__file__).resolve().parent.parent / "data"
CASES = {case["id"]: case for case in json.loads((DATA / "check_values.json").read_text(encoding="utf-8"))["cases"]}


class Published:
    """The cases of tests/data/check_values.json, compared with the tolerance that each of them states."""

    cases = CASES

    def inputs(self, case_id: str) -> dict[str, Any]:
        return CASES[case_id]["inputs"]

    def check(self, case_id: str, observed: Any, part: int | slice | None = None) -> None:
        """Assert that `observed` is the published value (or one part of it, where several are published)."""
        case = CASES[case_id]
        expected = np.asarray(case["expected"], float)
        tolerance = np.broadcast_to(np.asarray(case["tolerance"], float), expected.shape)
        if part is not None:
            expected, tolerance = expected[part], tolerance[part]
        allowed = tolerance * np.abs(expected) if case["tolerance_kind"] == "rel" else tolerance
        assert np.all(np.abs(np.asarray(observed, float) - expected) <= allowed), (
            f"{case_id}: {case['quantity']} is {observed}, published {expected} ± {allowed} {case['unit']} "
            f"({case['source']}; {case['status']}: {case['where']})"
        )


@pytest.fixture(scope="session")
def published() -> Published:
    return Published()


@pytest.fixture(scope="session")
def grid() -> dict[str, np.ndarray]:
    """tests/data/moist_air_grid.csv by column: states of moist air as two libraries compute them."""
    with (DATA / "moist_air_grid.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}
