"""Several processes, and processes that die: one unbroken chain, no half batches, one logger."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest

from booth.store import Store, StoreError

ROOT = Path(__file__).resolve().parents[2]

APPENDER = """
import sys
from booth.store import Draft, Store
with Store.open(sys.argv[1], create=True) as store:
    for number in range(60):
        store.journal.append([Draft("note", {"writer": sys.argv[2], "n": number}, 0, 0, "test", private={"by": "badge-1"})])
"""

WRITER = """
import itertools, sys
from booth.store import Draft, Reading, Store
store = Store.open(sys.argv[1], writer=True)
first = store.journal.head().entries // 3
for batch in itertools.count(first):
    with store.transaction():
        store.readings.append([Reading("north/air", batch * 4 + n, 0, "1", "degC", 1.0, 1) for n in range(4)])
        store.journal.append([Draft("note", {"batch": batch}, 0, 0, "test", private={"by": "badge-1"}) for n in range(3)])
    print(batch + 1, flush=True)
"""


def start(script: str, *arguments: object) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", script, *map(str, arguments)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)


def test_processes_that_append_at_once_make_one_chain(tmp_path: Path) -> None:
    writers = [start(APPENDER, tmp_path / "store", name) for name in "abc"]  # they race to create it, too
    assert [writer.wait(timeout=60) for writer in writers] == [0, 0, 0]
    for writer in writers:
        writer.stdout.close()
    with Store.open(tmp_path / "store") as store:
        found = store.journal.verify()
        assert (found.problems, found.entries) == ((), 180)
        for name in "abc":
            numbers = [entry.body["n"] for entry in store.journal.entries() if entry.body["writer"] == name]
            assert numbers == list(range(60))


def test_a_killed_writer_leaves_whole_batches_and_loses_none_that_it_reported(tmp_path: Path) -> None:
    random = Random(5)
    for _ in range(5):
        with start(WRITER, tmp_path) as writer:
            reported = [writer.stdout.readline() for _ in range(random.randrange(1, 40))]
            writer.kill()
            reported += writer.stdout.readlines()
        with Store.open(tmp_path, writer=True) as store:  # the dead one's lock is gone
            found = store.journal.verify()
            batches, rest = divmod(found.entries, 3)
            assert (found.problems, rest) == ((), 0)
            assert store.readings.counts() == {"north/air": batches * 4}
            assert batches >= int([line for line in reported if line.endswith("\n")][-1])


def test_a_second_logger_is_told_who_holds_the_store(tmp_path: Path) -> None:
    with start(WRITER, tmp_path) as writer:
        assert writer.stdout.readline()
        with pytest.raises(StoreError, match=rf"another logger \(process {writer.pid}\) is writing here; stop it first"):
            Store.open(tmp_path, writer=True)
        with Store.open(tmp_path) as reader:
            assert reader.journal.head().entries >= 3
        writer.kill()


def test_the_lock_is_given_back(tmp_path: Path) -> None:
    with Store.open(tmp_path, writer=True), pytest.raises(StoreError, match="another logger"):
        Store.open(tmp_path, writer=True)
    with Store.open(tmp_path, writer=True) as store:
        assert store.journal.verify().ok
        assert re.fullmatch(r"\d+\n", (tmp_path / "logger.lock").read_text())
    (tmp_path / "booth.sqlite").write_bytes(b"no database, and long enough to be seen as none" * 9)
    for _ in range(2):  # a failed opening gives it back, too
        with pytest.raises(StoreError, match="not an SQLite database"):
            Store.open(tmp_path, writer=True)
