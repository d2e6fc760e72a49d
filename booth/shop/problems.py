"""Everything that is wrong with a configuration, said at once and so that it can be mended.

A problem names the file, the key, what was found, what was expected and what to write instead.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from pydantic_core import PydanticCustomError


@dataclass(frozen=True, order=True)
class ConfigProblem:
    """One mistake in one place."""

    file: str
    key: str
    expected: str
    write: str

    def __str__(self) -> str:
        return f"{self.file}: {self.key or '(the whole file)'}: {self.expected}; write for example: {self.write}"


class ConfigError(Exception):
    """Every problem of a configuration."""

    def __init__(self, problems: list[ConfigProblem]) -> None:
        self.problems = sorted(set(problems))
        super().__init__("\n".join(map(str, self.problems)))


def expected(message: str, write: str | None = None, at: str = "") -> PydanticCustomError:
    """The error that a validator raises: what was expected, and what to write (None: the key's own example).

    `at`: the key that is wrong, where the validator stands above it.
    """
    return PydanticCustomError("expected", "{message}", {"message": message, "write": write, "at": at})


def instead_of(name: str, known: Iterable[str]) -> str:
    """What to write instead of a name that is none of the known ones: what was probably meant, else all of them."""
    names = list(known)
    close = difflib.get_close_matches(name, names, n=3)
    return " or ".join(close) if close else f"one of {', '.join(names)}"
