"""Runs `booth` in this process as the console script does, and takes a traceback for what it is."""

from __future__ import annotations

import contextlib
import io
import json
import sys
import traceback
from dataclasses import dataclass
from pathlib import Path

from booth.cli import main


@dataclass(frozen=True)
class Said:
    """What a command answered."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> dict:
        return json.loads(self.out)


def booth(*args: str | Path, config: Path | None = None, store: Path | None = None) -> Said:
    """Run a command; an exception that escapes ends up in `err` as the traceback that a user would see."""
    words = [str(arg) for arg in args]
    words += [] if config is None else ["--config", str(config)]
    words += [] if store is None else ["--store", str(store)]
    out, err = io.StringIO(), io.StringIO()
    before, sys.argv = sys.argv, ["booth", *words]
    code: object = 0
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                main()
            except SystemExit as leaving:
                code = leaving.code
            except BaseException:
                traceback.print_exc()
                code = 1
    finally:
        sys.argv = before
    return Said(code if isinstance(code, int) else 0 if code is None else 1, out.getvalue(), err.getvalue())
