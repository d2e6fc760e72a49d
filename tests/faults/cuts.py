"""Power cut in the middle of one operation, at every step of it: `python -m tests.faults.cuts OPERATION FOLDER`.

A process of its own, with one thread, forks a child for every cut. The child kills itself with SIGKILL right before its n-th
step, n = 1, 2, 3, … until it gets through. A step is an SQL statement (sqlite3's trace) or an opening, renaming or deleting of a
file (Python's audit events). A second sweep cuts within a write: the kernel's limit on a file's size ends the child with SIGXFSZ
in the middle of one, whose beginning is then in the file: a torn write. After each cut the store must be whole and as it was
before or after, and the same operation must then get through.

Prints one JSON object: {"cuts": how many, "steps": [before which it died], "problems": […]}.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import signal
import sqlite3
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.faults.operations import OPERATIONS, Operation

FILE_EVENTS = ("open", "os.rename", "os.remove", "shutil.copyfile", "sqlite3.connect")
TORN_EVERY = 1500  # bytes; an SQLite page has 4096, so that most cuts fall within one
_count: list = [0, 0, None]  # steps so far, the one before which to die, where to write what it was


def main() -> None:
    operation, folder = OPERATIONS[sys.argv[1]], Path(sys.argv[2])
    origin = folder / "origin"
    operation.prepare(origin)
    result = {"cuts": 0, "steps": [], "problems": []}
    for arm in (_die_before_step, _die_within_a_write):
        _sweep(operation, folder, origin, arm, result)
    print(json.dumps(result))


def _sweep(operation: Operation, folder: Path, origin: Path, arm: Callable[[int, Path], None], result: dict) -> None:
    here, note = folder / "here", folder / "note"
    for number in range(1, 2000):
        shutil.rmtree(here, ignore_errors=True)
        shutil.copytree(origin, here)
        note.write_text("")
        status = _in_a_child(operation, here, partial(arm, number, note))
        died = os.WIFSIGNALED(status)
        if not died and os.WEXITSTATUS(status):
            result["problems"].append(f"{arm.__name__} {number}: the operation failed instead of being cut")
            return
        try:
            operation.check(here, not died)
        except Exception as problem:
            place = f"{arm.__name__} {number} ({note.read_text() or 'the end'})"
            result["problems"].append(f"{place}: {type(problem).__name__} {problem}")
        if not died:
            return
        result["cuts"] += 1
        result["steps"].append(note.read_text())
    result["problems"].append("no end was found")


def _in_a_child(operation: Operation, here: Path, arm: Callable[[], None]) -> int:
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        try:
            arm()
            operation.act(here)
        except BaseException as problem:
            sys.stderr.write(f"{problem!r}\n")
            os._exit(1)
        os._exit(0)
    return os.waitpid(child, 0)[1]


def _die_before_step(number: int, note: Path) -> None:
    """From now on every SQL statement and every file event counts."""
    descriptor = os.open(note, os.O_WRONLY)
    _count[:] = [0, number, descriptor]
    connect = sqlite3.connect

    def traced(*args: object, **options: object) -> sqlite3.Connection:
        connection = connect(*args, **options)
        connection.set_trace_callback(_step)
        return connection

    sqlite3.connect = traced
    sys.addaudithook(lambda event, args: _step(f"{event} {args[0]}") if event in FILE_EVENTS and _is_data(args) else None)


def _is_data(args: tuple) -> bool:
    return "here" in str(args[0]) and not str(args[0]).endswith(".py")


def _step(what: str) -> None:
    _count[0] += 1
    if _count[0] == _count[1]:
        os.write(_count[2], " ".join(what.split())[:60].encode())
        os.kill(os.getpid(), signal.SIGKILL)


def _die_within_a_write(number: int, note: Path) -> None:
    """No file may grow beyond this: the write that would is done up to there, and the next one is deadly."""
    note.write_text(f"a write beyond {number * TORN_EVERY} bytes of one file")
    signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
    resource.setrlimit(resource.RLIMIT_FSIZE, (number * TORN_EVERY, resource.RLIM_INFINITY))


if __name__ == "__main__":
    main()
