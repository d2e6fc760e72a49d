"""The tests, run in a process that is a copy of this one.

A mutant of a function costs no start: the tests are collected once, and a copy of that process gets the function's changed code.
A mutant of what runs at import has a copy that hasn't imported anything of ours yet.
"""

from __future__ import annotations

import gc
import os
import resource
import signal
import sys
import traceback
from collections.abc import Callable, Iterable, Sequence
from importlib.machinery import SourceFileLoader
from inspect import unwrap
from pathlib import Path
from tempfile import TemporaryDirectory
from types import CodeType, FunctionType

import hypothesis
import pytest

from tests.mutation.mutants import Mutant
from tests.mutation.table import ERROR, KILLED, SURVIVED, TIMED_OUT

EXAMPLES = 5
"""Of a property, at most; the same ones each time, and none made smaller: that it fails is enough."""

SPARE_S, TIMES_LONGER = 5, 10
"""A test that takes this many times as long as without a mutant, and these seconds more, has timed out."""

SPARE_BYTES = 2 << 30

OUR_FAULT = 70
"""A copy that ends with this couldn't make its mutant."""


def copied(work: Callable[[], object], silent: bool = True) -> int:
    """Do `work` in a copy of this process; its process id."""
    sys.stdout.flush()
    if pid := os.fork():
        return pid
    code = OUR_FAULT
    try:
        if silent:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 1)
            os.dup2(nowhere, 2)
        code = int(work() or 0)
    except Exception:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        os._exit(code)


def done(work: Callable[[], object], what: str) -> None:
    """Do `work` in a copy of this process, aloud, and wait for it."""
    _, status = os.waitpid(copied(work, silent=False), 0)
    if status != 0:
        raise SystemExit(f"{what} ended with an error; what it was stands above")


def session(folders: Iterable[str], plugin: object) -> int:
    """pytest with nothing of what would start processes or keep something for the next run."""
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    with TemporaryDirectory() as folder:
        arguments = ["-q", "-s", "-p", "no:cacheprovider", f"--basetemp={folder}/base", *folders]
        return int(pytest.main(arguments, plugins=[_Lighter(), plugin]))


class _Lighter:
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        for test in {getattr(item.obj, "__func__", item.obj) for item in items}:
            if hasattr(test, "hypothesis"):
                full = test._hypothesis_internal_use_settings or hypothesis.settings()
                test._hypothesis_internal_use_settings = hypothesis.settings(
                    full,
                    max_examples=min(full.max_examples, EXAMPLES),
                    derandomize=True,
                    database=None,
                    phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
                )


class Chosen:
    """Tests in their order until one fails. Ends the process: 0 where all passed; otherwise 1, and the last test is noted."""

    def __init__(self, tests: Sequence[str], seconds: dict[str, float], note: Path) -> None:
        self._tests = tests
        self._seconds = seconds
        self._note = note
        self.files = sorted({test.split("::")[0] for test in tests})

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        chosen = [items[test] for test in self._tests]
        for item, following in zip(chosen, [*chosen[1:], None], strict=True):
            signal.alarm(SPARE_S + int(TIMES_LONGER * self._seconds[item.nodeid]))
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        os._exit(0)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self._note.write_text(report.nodeid, encoding="utf-8")
            os._exit(1)


class Swapping:
    """The tests, collected once; then `work`, which copies that process for each mutant of a function."""

    def __init__(self, work: Callable[[pytest.Session], None]) -> None:
        self._work = work

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        gc.collect()
        gc.freeze()  # what is here already need not be looked at, and so not be copied, by any of the copies
        self._work(session)
        os._exit(0)


def swapped(mutant: Mutant, session: pytest.Session, chosen: Chosen) -> int:
    """A copy of a session in which a function has the mutant's code; its process id."""

    def run() -> None:
        bounded()
        swap(mutant)
        session.config.pluginmanager.register(chosen)
        chosen.pytest_runtestloop(session)

    return copied(run)


def imported(mutant: Mutant, chosen: Chosen) -> int:
    """A session in a copy that imports the mutant in the file's place; its process id."""

    def run() -> int:
        bounded()
        whole = SourceFileLoader.get_code

        def get_code(self: SourceFileLoader, name: str) -> CodeType | None:
            return compile(mutant.text, mutant.path, "exec") if name == mutant.module else whole(self, name)

        SourceFileLoader.get_code = get_code
        signal.alarm(60)
        return session(chosen.files, chosen) and 1

    return copied(run)


def bounded() -> None:
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * resource.getpagesize() + SPARE_BYTES
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def outcome(status: int) -> str:
    """What a process's end says. One that an error, or the want of memory, ended was killed too."""
    if os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGALRM:
        return TIMED_OUT
    if os.WIFEXITED(status) and os.WEXITSTATUS(status) == OUR_FAULT:
        return ERROR
    return SURVIVED if status == 0 else KILLED


def swap(mutant: Mutant) -> None:
    """Give the function that is there the mutant's code: whoever has imported it calls it changed."""
    changed = _code(compile(mutant.text, mutant.path, "exec"), mutant.function)
    _function(mutant).__code__ = changed


def _code(module: CodeType, name: str) -> CodeType:
    inside = [one for one in module.co_consts if isinstance(one, CodeType)]
    for one in inside:
        if one.co_qualname == name:
            return one
    return _code(next(one for one in inside if name.startswith(one.co_qualname + ".")), name)


def _function(mutant: Mutant) -> FunctionType:
    *classes, name = mutant.function.split(".")
    owner = sys.modules[mutant.module]
    for one in classes:
        owner = getattr(owner, one)
    found = vars(owner)[name]
    found = unwrap(getattr(found, "fget", None) or getattr(found, "__func__", None) or found)
    assert found.__code__.co_qualname == mutant.function, f"{mutant.name}: {mutant.function} isn't what runs"
    return found
