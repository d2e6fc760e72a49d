"""A child of the logger may have children of its own: the board makes its PDF documents in one."""

from __future__ import annotations

import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

from booth.child import Child


def double(number: int) -> int:
    return 2 * number


def works_with_a_child(out: str, pipe: Connection) -> None:
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        Path(out).write_text(str(pool.submit(double, 21).result()), encoding="utf-8")
    pipe.recv_bytes()


def test_a_child_may_have_a_child(tmp_path: Path) -> None:
    out = tmp_path / "answer"
    child = Child("worker", works_with_a_child, str(out))
    child.start()
    try:
        for _ in range(600):
            if out.is_file() and out.read_text(encoding="utf-8"):
                break
            time.sleep(0.1)
        assert out.read_text(encoding="utf-8") == "42"
    finally:
        child.stop()
    child.stop()
