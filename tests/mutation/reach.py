"""Which tests run which lines, and how long each takes. Kept by test file, and looked at anew where something has changed."""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from coverage import Coverage

from tests.mutation.sessions import done, session

KEPT = Path("mutate-reach.json")
TESTS_OF = {
    "booth/physics": ("tests/physics",),
    "booth/judge": (
        "tests/judge",
        *("tests/alarms/test_care_due.py", "tests/app/test_hazard.py", "tests/app/test_trend.py"),
        *("tests/reports/test_materials.py", "tests/web/test_clearance.py"),
    ),
}
"""Where the tests of a package are. All of them are run; those of a file's own package come first."""
SOURCES = tuple(TESTS_OF)
TESTS = tuple(tests for of_one in TESTS_OF.values() for tests in of_one)

Reached = dict[str, dict[int, set[str]]]
"""File -> line -> the tests that run it."""


def reach() -> tuple[dict[str, float], Reached]:
    """Seconds by test, and what it reaches."""
    states = _states()
    kept = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else {}
    kept = {file: one for file, one in kept.items() if one["state"] == states.get(file)}
    if changed := sorted(states.keys() - kept.keys()):
        done(lambda: session(changed, _Watching(states, kept)), "the tests as they are")
        kept = json.loads(KEPT.read_text(encoding="utf-8"))
    reached: Reached = defaultdict(lambda: defaultdict(set))
    for one in kept.values():
        for test, files in one["reached"].items():
            for path, lines in (*files.items(), *one["shared"].items()):
                for line in lines:
                    reached[path][line].add(test)
    return {test: seconds for one in kept.values() for test, seconds in one["seconds"].items()}, reached


def _states() -> dict[str, str]:
    """A fingerprint of each file of tests and of all that it may rest upon."""
    files = {
        path
        for folder in ("booth", *TESTS)
        for path in ([Path(folder)] if folder.endswith(".py") else Path(folder).rglob("*.py"))
    }
    tests = sorted(path for path in files if path.name.startswith("test_"))
    ground = b"".join(path.read_bytes() for path in [Path(__file__), *sorted(files.difference(tests))])
    return {str(path): hashlib.sha256(ground + path.read_bytes()).hexdigest() for path in tests}


class _Watching:
    def __init__(self, states: dict[str, str], kept: dict[str, dict]) -> None:
        self._kept = kept | {
            file: {"state": states[file], "seconds": {}, "shared": {}, "reached": {}} for file in states.keys() - kept.keys()
        }
        self._coverage = Coverage(data_file=None, include=[f"{source}/*" for source in SOURCES], config_file=False)
        self._coverage.set_option("run:disable_warnings", ["no-data-collected", "module-not-measured"])  # some run none of it

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        begun = time.perf_counter()
        self._coverage.start()
        try:
            return (yield)
        finally:
            self._coverage.stop()
            file = self._kept[item.nodeid.split("::")[0]]
            file["seconds"][item.nodeid] = time.perf_counter() - begun
            file["reached"][item.nodeid] = dict(self._lines())
            self._coverage.erase()

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_call(self, item: pytest.Item) -> None:
        """A fixture of a whole file is made for the first test that asks for it, and what it runs reaches all the others."""
        file = self._kept[item.nodeid.split("::")[0]]
        for path, lines in self._lines():
            file["shared"][path] = sorted({*lines, *file["shared"].get(path, ())})

    def _lines(self) -> Iterable[tuple[str, list[int]]]:
        data = self._coverage.get_data()
        return ((os.path.relpath(path), sorted(data.lines(path) or ())) for path in data.measured_files())

    def pytest_sessionfinish(self, exitstatus: int) -> None:
        if exitstatus == 0:
            KEPT.write_text(json.dumps(self._kept), encoding="utf-8")
