"""`make mutate`: one thing in the lower half is made wrong, and the tests must notice; then the next thing.

    python -m tests.mutation --share 0.2                 a fifth of the mutants of every file; without it all of them
    python -m tests.mutation --only booth/physics        of these files or folders alone
    python -m tests.mutation --again                     once more those that weren't killed

What was found is kept in mutate.jsonl: a run that was broken off goes on where it was, and a file that has changed is done anew.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import sys
from collections.abc import Callable, Iterable
from importlib import import_module
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest

from tests.mutation.mutants import Mutant, mutants
from tests.mutation.order import Order
from tests.mutation.reach import SOURCES, TESTS, reach
from tests.mutation.sessions import Chosen, Swapping, done, imported, outcome, session, swapped
from tests.mutation.table import ERROR, KILLED, SURVIVED, UNREACHED, Result, report

HEAVY = (
    "CoolProp.CoolProp",
    "chemicals",
    "fluids",
    "hypothesis.extra.numpy",
    "numpy",
    "pint",
    "psychrolib",
    "pvlib",
    "pydantic",
    "scipy.stats",
    "uncertainties",
)
"""Imported once, before any copy is made."""

CONTROLS = 4
"""So many mutants that change nothing are tried among the others: no test may fail because of how it is run here."""

KEPT = Path("mutate.jsonl")


def main() -> None:
    plainly = argparse.RawTextHelpFormatter
    ask = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__, formatter_class=plainly)
    ask.add_argument("--share", type=float, default=1.0, help="of each file's mutants, drawn at random")
    ask.add_argument("--seed", type=int, default=1, help="of that draw")
    ask.add_argument("--only", nargs="+", default=list(SOURCES), metavar="PATH")
    ask.add_argument(
        "--patience", type=float, default=60, metavar="S", help="a mutant is tried for so long, the quick tests first"
    )
    ask.add_argument("--jobs", type=int, default=1)
    ask.add_argument("--again", action="store_true", help="also those that were found alive before")
    given = ask.parse_args()
    drawn = [one for path in _files(given.only) for one in mutants(path, given.share, given.seed)]
    known = _known()
    todo = [one for one in drawn if _key(one) not in known or (given.again and known[_key(one)].outcome != KILLED)]
    Random(given.seed).shuffle(todo)  # what is done of a run that is broken off is then a fair sample too
    print(f"{len(drawn)} mutants, {len(todo)} of them to try", flush=True)
    if todo:
        _try(todo, given.jobs, given.patience, known)
    results = [known[_key(one)] for one in drawn]
    report(drawn, results)
    raise SystemExit(1 if any(one.outcome == ERROR for one in results) else 0)


def _files(paths: Iterable[str]) -> list[Path]:
    found = [file for path in map(Path, paths) for file in ([path] if path.suffix else sorted(path.rglob("*.py")))]
    if not found or not all(file.is_file() and str(file).startswith(SOURCES) for file in found):
        raise SystemExit(f"--only takes files and folders of {' and '.join(SOURCES)}, not {' '.join(paths)}")
    return found


def _key(mutant: Mutant) -> str:
    return hashlib.sha256(f"{mutant.path}\n{mutant.text}".encode()).hexdigest()[:16]


def _known() -> dict[str, Result]:
    lines = KEPT.read_text(encoding="utf-8").splitlines() if KEPT.exists() else []
    return {row["key"]: Result(**row) for row in map(json.loads, lines)}


def _try(todo: list[Mutant], jobs: int, patience_s: float, known: dict[str, Result]) -> None:
    for name in HEAVY:
        import_module(name)
    order = Order(*reach(), patience_s)
    with TemporaryDirectory() as folder:
        notes = Path(folder)
        at_import = [one for one in todo if not one.function]
        _each(at_import, jobs, order, notes, imported)
        inside = [one for one in todo if one.function]
        controls = [one.unchanged() for one in inside[:: len(inside) // CONTROLS + 1]]

        def all_of_them(collected: pytest.Session) -> None:
            _each([*controls, *inside], jobs, order, notes, lambda mutant, chosen: swapped(mutant, collected, chosen))

        done(lambda: session(TESTS, Swapping(all_of_them)), "the mutants of functions")
    known |= _known()
    if failed := [one.name for one in controls if known[_key(one)].outcome != SURVIVED]:
        raise SystemExit(f"the tests fail where nothing was changed, so that nothing above counts: {', '.join(failed)}")


def _each(mutants: list[Mutant], jobs: int, order: Order, notes: Path, start: Callable[[Mutant, Chosen], int]) -> None:
    """So many at a time; each outcome is kept as soon as it is known."""
    running: dict[int, tuple[Mutant, Path]] = {}

    def wait() -> None:
        pid, status = os.wait()
        mutant, note = running.pop(pid)
        if note.exists():
            order.remember(mutant, note.read_text(encoding="utf-8"))
        _keep(mutant, outcome(status))

    for number, mutant in enumerate(mutants):
        if tests := order.tests(mutant):
            note = notes / f"{bool(mutant.function)}-{number}"
            running[start(mutant, Chosen(tests, order.seconds, note))] = mutant, note
        else:
            _keep(mutant, UNREACHED)
        if len(running) >= jobs:
            wait()
        print(f"\r{number + 1} of {len(mutants)} ", end="", file=sys.stderr, flush=True)
    while running:
        wait()
    print(file=sys.stderr)


def _keep(mutant: Mutant, said: str) -> None:
    with KEPT.open("a", encoding="utf-8") as file:
        file.write(json.dumps(vars(Result(_key(mutant), mutant.name, said))) + "\n")


if __name__ == "__main__":
    main()
