"""The lines of a text file, numbered, each read on its own: what is wrong with one costs only that one."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from booth.readers.received import QuarantinedIn
from booth.readers.refused import Refused, quoted

LONGEST_LINE = 64 * 1024  # characters


class ReplayError(ValueError):
    """A file, or what the configuration says of it, that can't be read at all; a sentence for the person who gave it."""


@dataclass(frozen=True)
class Line:
    """A line without its end. `origin` is file:line; `problem` says why its text can't be used."""

    number: int
    origin: str
    text: str
    problem: Refused | None = None

    @property
    def blank(self) -> bool:
        return not self.text.strip()

    def checked(self) -> str:
        """The text. Raises Refused: not_utf8, too_large."""
        if self.problem:
            raise self.problem
        return self.text

    def quarantined(self, why: Refused, now: int, reader: str) -> QuarantinedIn:
        payload = self.text.encode("utf-8", "surrogateescape")
        return QuarantinedIn(now, reader, self.origin, why.reason, f"{self.origin}: {why.sentence}.", payload)


def lines_of(path: Path, encoding: str = "utf-8") -> Iterator[Line]:
    """Every line of the file. Raises ReplayError where the file can't be opened or the encoding isn't one."""
    encoding = _checked(encoding, path)
    try:
        file = path.open(encoding=encoding, errors="surrogateescape")
    except OSError as problem:
        raise ReplayError(f"{path}: {problem.strerror}; expected a text file that can be read") from None
    with file:
        number = 0
        while text := file.readline(LONGEST_LINE):
            number += 1
            whole = len(text) < LONGEST_LINE or text.endswith("\n")
            while not whole:
                rest = file.readline(LONGEST_LINE)
                whole = not rest or rest.endswith("\n")
                text = text[:LONGEST_LINE] + "…"
            text = text.rstrip("\n")
            yield Line(number, f"{path.name}:{number}", text, _problem(text, encoding))


def _problem(text: str, encoding: str) -> Refused | None:
    if len(text) > LONGEST_LINE:
        return Refused("too_large", f"more than {LONGEST_LINE} characters; expected one reading or event a line")
    if not text.isascii() and any("\udc80" <= character <= "\udcff" for character in text):
        return Refused("not_utf8", f"{quoted(text)} holds bytes that are not {encoding}; expected text: state its encoding")
    return None


def _checked(encoding: str, path: Path) -> str:
    """The encoding, for UTF-8 the one that skips a byte-order mark; only those that keep ASCII as it is."""
    try:
        name = codecs.lookup(encoding).name
        keeps_ascii = "a,1\n".encode(name).removeprefix(codecs.BOM_UTF8) == b"a,1\n"
    except (LookupError, TypeError):
        keeps_ascii = False
    if not keeps_ascii:
        raise ReplayError(f"{path}: encoding {encoding!r}; expected one that extends ASCII, for example 'utf-8' or 'cp1252'")
    return "utf-8-sig" if name == "utf-8" else name
