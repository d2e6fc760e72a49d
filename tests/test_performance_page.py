"""docs/performance.md has a row for each figure that the benchmarks print, and none that they don't.

The figures' names are read out of the benchmarks' syntax: a test that ran them would be a timed one.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

TESTS = Path(__file__).resolve().parent
PAGE = (TESTS.parent / "docs" / "performance.md").read_text(encoding="utf-8")


def names_in(source: str) -> Iterator[str]:
    """A pattern for the name of every Figure that a benchmark yields; what is put in at run time may be anything."""
    tree = ast.parse(source)
    texts = {
        target.id: node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant | ast.JoinedStr)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Figure":
            name = node.args[0]
            yield _pattern(texts[name.id] if isinstance(name, ast.Name) else name)


def _pattern(text: ast.expr) -> str:
    if isinstance(text, ast.Constant):
        return re.escape(text.value)
    assert isinstance(text, ast.JoinedStr), ast.dump(text)
    return "".join(re.escape(part.value) if isinstance(part, ast.Constant) else ".+" for part in text.values)


def patterns() -> list[str]:
    return [name for path in sorted(TESTS.glob("bench*.py")) for name in names_in(path.read_text(encoding="utf-8"))]


def rows() -> list[str]:
    table = PAGE[PAGE.index("<!-- from bench.json -->") : PAGE.index("<!-- end -->")]
    return [line.split("|")[1].strip() for line in table.splitlines() if line.startswith("| ")][2:]


def test_names_are_found_in_a_benchmark() -> None:
    source = 'name = f"of {size} GB"\nyield_(Figure(name, 1), Figure("plain (s)", 2), Figure(f"{rate}/s", 3))'
    found = list(names_in(source))
    assert found == [r"of\ .+\ GB", r"plain\ \(s\)", ".+/s"]
    assert len(patterns()) >= 18


def test_every_figure_has_a_row() -> None:
    assert [pattern for pattern in patterns() if not any(re.fullmatch(pattern, row) for row in rows())] == []


def test_no_row_is_of_a_figure_that_is_not_measured_any_more() -> None:
    assert rows()
    assert [row for row in rows() if not any(re.fullmatch(pattern, row) for pattern in patterns())] == []


def test_every_row_says_its_goal() -> None:
    table = [line for line in PAGE.splitlines() if line.startswith("| ") and line.count("|") == 7]
    assert all(line.split("|")[5].strip() for line in table)
