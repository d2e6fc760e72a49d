"""Power cut before every SQL statement and file operation, and within writes: every operation is done, or it is not.

How the cutting is done: tests/faults/cuts.py. Whether an fsync reaches the platter is the disk's word; SQLite's synchronous=FULL
asks for it at every commit.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def cut(operation: str, folder: Path) -> dict:
    command = [sys.executable, "-m", "tests.faults.cuts", operation, str(folder)]
    ended = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert ended.returncode == 0, ended.stderr[-3000:]
    return json.loads(ended.stdout)


@pytest.mark.parametrize(
    ("operation", "some_step"),
    [
        ("creating", "CREATE TABLE journal"),
        ("a batch", "INSERT INTO journal"),
        ("sealing", "INSERT INTO sealed_hour"),
        ("a backup", "os.rename"),
        ("restoring", "os.rename"),
        ("a migration", "CREATE TABLE chunk"),
        ("booth event", "INSERT INTO disclosure"),
    ],
)
def test_cut_at_every_step(operation: str, some_step: str, tmp_path: Path) -> None:
    result = cut(operation, tmp_path)
    assert result["problems"] == []
    assert any(step.startswith(some_step) for step in result["steps"]), result["steps"]
    assert any("a write beyond" in step for step in result["steps"])


def test_an_operation_in_two_commits_is_found(tmp_path: Path) -> None:
    """The check can fail: the same batch, committed in two parts, is caught halfway."""
    assert any("half a batch" in problem for problem in cut("a batch in two commits", tmp_path)["problems"])
