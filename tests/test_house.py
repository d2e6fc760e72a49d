"""The arrows of the house: dependencies point down only, and the lower half knows no clock, file, network or screen.

Read from the syntax of the files, so that an import inside a function counts too. Each rule is shown to catch a planted
violation.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parent.parent

FLOORS = (
    ("units", "times"),
    ("physics",),
    ("shop",),
    ("judge",),
    ("alarms",),
    ("readers", "store", "notify"),
)
"""From the ground up. A module may import its own floor and those below; whatever isn't named lives above them all."""

LOWER_HALF = ("units", "times", "physics", "shop", "judge", "alarms")
OUTSIDE = {
    *("asyncio", "concurrent", "http", "logging", "multiprocessing", "os", "queue", "random", "secrets", "select", "shutil"),
    *("signal", "socket", "sqlite3", "ssl", "subprocess", "sys", "tempfile", "threading", "time", "urllib.request"),
    *("influxdb_client", "paho", "pandas", "rich", "typer", "typst"),
}
"""Modules through which a clock, a file, the network, chance or a screen would come into the lower half."""

CLOCK_CALLS = {"now", "today", "utcnow", "monotonic", "perf_counter", "time_ns"}
FILE_CALLS = {"open", "read_bytes", "read_text", "write_bytes", "write_text", "mkdir", "rename", "touch", "unlink"}
SCREEN_CALLS = {"print", "input"}
READS_FILES = {"booth.shop.shop"}
"""The one module of the lower half that reads files: the shop's own."""

HEAVY = {"influxdb_client", "pandas", "pint", "typst"}
"""Dear to import: only inside a function that needs them."""

OWN_PINT = "booth.units"


class Breach(NamedTuple):
    module: str
    line: int
    what: str


def imports(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Every module that is imported, wherever the import stands. `from a import b` may mean a module a.b too."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports say where they come from in full"
            yield node.lineno, node.module
            if node.module == "booth":
                yield from ((node.lineno, f"booth.{alias.name}") for alias in node.names)


def floor_of(module: str) -> int:
    room = (module.split(".") + [""])[1]
    return next((number for number, rooms in enumerate(FLOORS) if room in rooms), len(FLOORS))


def upward(module: str, tree: ast.AST) -> Iterator[Breach]:
    for line, name in imports(tree):
        if name.startswith("booth.") and floor_of(name) > floor_of(module):
            yield Breach(module, line, f"imports {name}, which lies above it")


def outside(module: str, tree: ast.AST) -> Iterator[Breach]:
    """A clock, a file, the network, chance or a screen in the lower half."""
    if not any(f"{module}.".startswith(f"booth.{room}.") for room in LOWER_HALF):
        return
    for line, name in imports(tree):
        if any(name == one or name.startswith(one + ".") for one in OUTSIDE):
            yield Breach(module, line, f"imports {name}")
        if name.split(".")[0] == "pint" and module != OWN_PINT:
            yield Breach(module, line, "imports pint, which only booth.units does")
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in CLOCK_CALLS | SCREEN_CALLS or (name in FILE_CALLS and module not in READS_FILES):
            yield Breach(module, node.lineno, f"calls {name}()")


def heavy(module: str, tree: ast.Module) -> Iterator[Breach]:
    """A dear import that is paid whenever the module is imported."""
    top = ast.Module([node for node in tree.body if not isinstance(node, ast.FunctionDef | ast.ClassDef)], [])
    for line, name in imports(top):
        if name.split(".")[0] in HEAVY:
            yield Breach(module, line, f"imports {name} at its top")


def entangled(module: str, tree: ast.AST) -> Iterator[Breach]:
    """A simulator that knows anything of the logger but how a time is written."""
    if module.split(".")[0] == "simulators":
        for line, name in imports(tree):
            if name.split(".")[0] == "booth" and name not in ("booth.times",):
                yield Breach(module, line, f"imports {name}")


RULES = (upward, outside, heavy, entangled)


def sources() -> dict[str, str]:
    """Module name -> text of every file of the two packages."""
    found = {}
    for package in ("booth", "simulators"):
        for path in sorted((ROOT / package).rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
            found[name] = path.read_text(encoding="utf-8")
    return found


def breaches(texts: dict[str, str]) -> list[Breach]:
    trees = {module: ast.parse(text) for module, text in texts.items()}
    return [breach for module, tree in trees.items() for rule in RULES for breach in rule(module, tree)]


def test_the_house_stands() -> None:
    texts = sources()
    assert {"booth.judge.judge", "booth.physics.pace", "booth.shop.shop", "booth.alarms.advance", "simulators.plant"} <= set(
        texts
    )
    assert breaches(texts) == []


@pytest.mark.parametrize(
    ("module", "planted", "what"),
    [
        ("booth.judge.judge", "from booth.store import Store", "imports booth.store, which lies above it"),
        ("booth.judge.judge", "def f():\n    import booth.alarms.book", "imports booth.alarms.book, which lies above it"),
        ("booth.physics.pace", "from booth import judge", "imports booth.judge, which lies above it"),
        ("booth.shop.shop", "from booth.judge.finding import Verdict", "imports booth.judge.finding, which lies above it"),
        ("booth.store.store", "from booth.logger import run", "imports booth.logger, which lies above it"),
        ("booth.judge.rules.peak", "import time", "imports time"),
        ("booth.alarms.book", "import datetime\nx = datetime.datetime.now()", "calls now()"),
        ("booth.judge.ledger", "x = open('journal')", "calls open()"),
        ("booth.shop.coating", "x = path.read_text()", "calls read_text()"),
        ("booth.judge.judge", "print('met')", "calls print()"),
        ("booth.judge.judge", "def f():\n    import pint", "imports pint, which only booth.units does"),
        ("booth.alarms.book", "from paho.mqtt import client", "imports paho.mqtt"),
        ("booth.cli.app", "import pandas as pd", "imports pandas at its top"),
        ("simulators.plant", "from booth.judge.judge import judge", "imports booth.judge.judge"),
    ],
)
def test_a_planted_violation_is_caught(module: str, planted: str, what: str) -> None:
    found = breaches({module: planted})
    assert [(breach.module, breach.what) for breach in found] == [(module, what)]


def test_help_is_cheap() -> None:
    """Importing what `booth --help` needs brings none of the dear ones along."""
    script = "import sys, booth.cli; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True)
    loaded = set(done.stdout.split())
    assert "booth" in loaded and loaded & HEAVY == set()
