"""The project's own promises: hashed lock, explained dependencies, licence, and nothing that names a machine.

Sources: the Apache-2.0 text is checked by the SHA-256 of the copy that its foundation publishes (from memory;
Debian's common-licenses copy has the same); licence names by SPDX; package names normalised as PEP 503 says.
"""

from __future__ import annotations

import hashlib
import re
import subprocess
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

import booth

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")
APACHE_2_SHA256 = "cfc7749b96f63bd31c3c42b5c471bf756814053e847c10f3eb003417bc523d30"

# Each in two parts, so that this file doesn't contain what it looks for.
FORBIDDEN_TRACES = [
    first + second
    for first, second in [
        ("pypi", ".org"),
        ("python", "hosted"),
        ("npm", "js"),
        ("deb.", "debian"),
        ("/wo", "rk/"),
        ("/fa", "rm/"),
        ("/ro", "ot/"),
        ("/tm", "p/"),
    ]
]


def normalised(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def direct_dependencies() -> list[str]:
    """The normalised names of everything that pyproject.toml asks for, extras included."""
    extras = PROJECT["optional-dependencies"].values()
    wanted = PROJECT["dependencies"] + [requirement for extra in extras for requirement in extra]
    return [normalised(re.match(r"[A-Za-z0-9._-]+", requirement)[0]) for requirement in wanted]


def project_files() -> list[Path]:
    """What a commit would hold: tracked files and new ones that git doesn't ignore.

    Outside a git work tree (an unpacked archive) it is every file that isn't in a hidden folder.
    """
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    if (ROOT / ".git").exists():
        listed = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
        files = [ROOT / name for name in listed.split("\0") if name]
    else:
        made_here = {".venv", ".venv-mutate", ".hypothesis", ".pytest_cache", ".ruff_cache", "__pycache__", "demo-out"}
        files = [path for path in ROOT.rglob("*") if not made_here & set(path.relative_to(ROOT).parts)]
    return [path for path in files if path.is_file()]


def traces(files: Iterable[Path]) -> Iterator[str]:
    for path in files:
        for number, line in enumerate(path.read_bytes().decode("utf-8", "replace").splitlines(), start=1):
            for trace in FORBIDDEN_TRACES:
                if trace in line.lower():
                    yield f"{path.name}:{number}: contains {trace!r}"


def test_lock_names_no_host() -> None:
    assert not re.findall(r"https?:|index-url|find-links|trusted-host", LOCK)


def test_lock_covers_every_direct_dependency_with_a_hash() -> None:
    with_hash = re.findall(r"^([A-Za-z0-9._-]+)==.+\\\n +--hash=sha256:", LOCK, re.MULTILINE)
    missing = set(direct_dependencies()) - set(map(normalised, with_hash))
    assert not missing, f"run 'make lock': requirements.lock lacks {sorted(missing)}"


def test_every_dependency_is_explained() -> None:
    pages = (ROOT / "docs/decisions").glob("*.md")
    decisions = "\n".join(page.read_text(encoding="utf-8") for page in pages)
    rows_and_headings = re.findall(r"^(?:\| |#+ )`([A-Za-z0-9._-]+)`", decisions, re.MULTILINE)
    missing = set(direct_dependencies()) - set(map(normalised, rows_and_headings))
    assert not missing, f"add a row to a table in docs/decisions/ for: {sorted(missing)}"


def test_no_file_names_a_registry_or_a_machine() -> None:
    files = project_files()
    assert Path(__file__).resolve() in files, "the list of files to search is wrong"
    assert list(traces(files)) == []


@pytest.mark.parametrize("trace", FORBIDDEN_TRACES)
def test_a_trace_would_be_found(trace: str, tmp_path: Path) -> None:
    planted = tmp_path / "planted.md"
    planted.write_text(f"all well\nsee {trace.upper()}somewhere\n", encoding="utf-8")
    assert list(traces([planted])) == [f"planted.md:2: contains {trace!r}"]


def test_version_is_the_same_in_both_places() -> None:
    assert PROJECT["version"] == booth.__version__


def test_licence_is_apache_2() -> None:
    assert PROJECT["license"] == "Apache-2.0"
    assert hashlib.sha256((ROOT / "LICENSE").read_bytes()).hexdigest() == APACHE_2_SHA256
